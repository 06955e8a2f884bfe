"""What closing a session causes here: the follow-ups in the same transaction, the sheet right after it."""

import logging
from datetime import datetime

from django.db import transaction

from clinic.documents.failures import RenderFailed
from clinic.messages.links import NumbersMissing
from clinic.trail.actor import Actor
from whitening.chairside.models import Session
from whitening.recall.actions import follow_late, plan_after_session
from whitening.recall.aftercare import sheet_of

logger = logging.getLogger(__name__)


def after_session(*, session: Session, needs_call: bool, actor: Actor, now: datetime) -> None:
    """Drawing takes too long for a transaction, so the sheet follows the commit; asking for it tries again."""
    plan_after_session(session=session, needs_call=needs_call, actor=actor, now=now)
    transaction.on_commit(lambda: _issue(session, actor, now))


def after_late_entry(*, session: Session, needs_call: bool, actor: Actor, now: datetime) -> None:
    """The call follows the log, and a sheet that says what is no longer so is made anew."""
    follow_late(session=session, needs_call=needs_call, actor=actor, now=now)
    transaction.on_commit(lambda: _issue(session, actor, now))


def _issue(session: Session, actor: Actor, now: datetime) -> None:
    try:
        sheet_of(session, actor=actor, now=now)
    except (RenderFailed, NumbersMissing):
        # The session is closed all the same; the case page and the patient's page offer to make it again.
        logger.warning("The aftercare sheet of session %s could not be made yet.", session.pk)
