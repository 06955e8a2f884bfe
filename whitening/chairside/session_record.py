"""The session record: made once the session is closed, kept, and made again where the log has grown since."""

import logging
from datetime import datetime

from django.db.models import Max
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.languages import speaking, spoken
from clinic.documents import actions as documents
from clinic.documents import kinds, larger
from clinic.documents.failures import RenderFailed
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.chairside import log
from whitening.chairside.consents_told import consents_told
from whitening.chairside.models import Batch, LightUnit, Session
from whitening.chairside.record_facts import RecordFacts, record_facts
from whitening.screening.teeth import tooth

KIND = "session_record"
logger = logging.getLogger(__name__)


class SessionStillOpen(Refusal):
    code = "chairside.session_still_open"
    sentence = gettext_lazy("This session is not closed yet. Its record is made when it is.")


def record_paper(session: Session, *, actor: Actor, now: datetime, is_large: bool = False) -> IssuedDocument:
    """The one that was made, as long as the log is as it was then; else a new one. Raises RenderFailed."""
    if session.closed_at is None or session.closed_by is None:
        raise SessionStillOpen
    held = _held(session, is_large=is_large)
    if held is not None:
        return held
    language = spoken(session.closed_by.language)
    facts = record_facts(log.read(session), log.plan_of(session, now=session.closed_at), now=session.closed_at)
    with speaking(language):
        title = _("Session record, session %(number)d") % {"number": session.number}
    return documents.issue(
        kind=KIND,
        patient=session.case.patient,
        site=session.case.site,
        context={"facts": facts, "session": session, **_things(session, facts), **_of_the_case(session)},
        language=language,
        title=title,
        subject=("session", session.pk),
        actor=actor,
        now=now,
        large_print=is_large,
    )


def after_closing(session: Session, *, actor: Actor, now: datetime) -> None:
    """Right after the commit: the session is closed all the same when drawing fails, and the case page asks again."""
    try:
        record_paper(session, actor=actor, now=now)
    except RenderFailed:
        logger.warning("The record of session %s could not be made yet.", session.pk)


def _held(session: Session, *, is_large: bool) -> IssuedDocument | None:
    written_at = session.events.aggregate(last=Max("recorded_at"))["last"] or session.closed_at
    rows = IssuedDocument.objects.about(("session", session.pk)).filter(
        kind=KIND, large_print=is_large, template_version=kinds.get(KIND).version
    )
    return rows.filter(issued_at__gte=written_at).order_by("-issued_at", "-pk").first()


def _things(session: Session, facts: RecordFacts) -> dict[str, object]:
    """What the log names by number only."""
    units = LightUnit.objects.filter(pk__in=facts.light_units | facts.curing_units).select_related("resource")
    batches = Batch.objects.filter(pk__in=facts.batches).select_related("product")
    return {
        "lights": [unit for unit in units if unit.pk in facts.light_units],
        "curing_lights": [unit for unit in units if unit.pk in facts.curing_units],
        "batches": list(batches),
        "left_out": [tooth(number).label for number in session.plan.teeth_left_out],
        "zone": session.case.site.timezone,
    }


def _of_the_case(session: Session) -> dict[str, object]:
    """What was settled before the session was opened, or changed until it was closed."""
    asked = session.case.identity_checks.filter(asked_at__lte=session.closed_at).select_related("asked_by")
    return {
        "identity": asked.order_by("asked_at", "pk").last(),
        "consents": consents_told(session),
    }


def _larger(document: IssuedDocument, actor: Actor, now: datetime) -> IssuedDocument:
    rows = Session.objects.select_related("case__site", "case__patient", "plan__product", "closed_by", "site")
    return record_paper(rows.get(pk=int(document.subject_id)), actor=actor, now=now, is_large=True)


def register() -> None:
    kinds.register(
        kinds.DocumentKind(
            code=KIND,
            word=gettext_lazy("session record"),
            clinical=True,
            template="documents/session_record.html",
            version=2,
        )
    )
    larger.register(KIND, _larger)
