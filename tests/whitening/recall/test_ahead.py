"""Whoever answers, or whose case ends, while a batch is on its way is not asked any more."""

from collections.abc import Callable

import pytest
from django.core import mail

from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep
from tests.cast import NOW, Cast, actor_of
from tests.clinic.messages.between import when_the_first_goes_out
from tests.whitening.recall.afterwards import WELL, a_closed_session, later
from whitening.cases.models import Case, CloseReason
from whitening.chairside.models import Session
from whitening.recall.actions import record_reply
from whitening.recall.actions.planning import AFTERCARE, REVIEW_INVITATION, TWO_DAY_CHECK
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState

pytestmark = pytest.mark.django_db


def answers(session: Session, cast: Cast) -> None:
    record_reply(session=session, answers=WELL, actor=actor_of(cast.clinician), now=later(days=2))


def is_done(session: Session, _cast: Cast) -> None:
    """As another part might write it, without a word to what waits."""
    FollowUp.objects.filter(session=session, kind=FollowUpKind.TWO_DAY).update(state=FollowUpState.DONE, closed_at=NOW)


def is_closed(session: Session, _cast: Cast) -> None:
    Case.objects.filter(pk=session.case_id).update(closed_at=NOW, close_reason=CloseReason.FINISHED)


@pytest.mark.parametrize(
    ("kind", "change"), [(TWO_DAY_CHECK, answers), (TWO_DAY_CHECK, is_done), (REVIEW_INVITATION, is_closed)]
)
def test_it_is_not_asked_any_more(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, kind: str, change: Callable[[Session, Cast], object]
) -> None:
    session = a_closed_session(cast)
    DueMessage.objects.exclude(kind__in=[AFTERCARE, kind]).delete()
    DueMessage.objects.filter(kind=kind).update(due_at=NOW)
    asked = DueMessage.objects.get(kind=kind)
    when_the_first_goes_out(monkeypatch, lambda: change(session, cast))
    assert sweep(now=NOW).claimed == 2
    asked.refresh_from_db()
    assert (asked.state, len(mail.outbox)) == (State.CANCELLED, 1)


@pytest.mark.parametrize("kind", [TWO_DAY_CHECK, REVIEW_INVITATION])
def test_otherwise_it_is(cast: Cast, kind: str) -> None:
    a_closed_session(cast)
    DueMessage.objects.exclude(kind__in=[AFTERCARE, kind]).delete()
    DueMessage.objects.filter(kind=kind).update(due_at=NOW)
    assert sweep(now=NOW).states == {State.HANDED_OVER: 2}
