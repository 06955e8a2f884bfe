"""The tick goes on when one of its steps fails, and says that it failed; its loop shows on the page of health."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.test import Client

from clinic.diary.models import Booking, Status
from clinic.messages.models import Call, DueMessage, Heartbeat, Outcome
from clinic.messages.tasks import sweep_messages
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.support import nothing_written
from tests.whitening.recall import afterwards, reviews
from whitening.cases.actions import add_visit, close_case
from whitening.cases.models import CloseReason, VisitPurpose
from whitening.chairside.models import Session
from whitening.recall.actions import record_reply, ticking
from whitening.recall.models import FollowUp, FollowUpKind, FollowUpState
from whitening.recall.tasks import recall_tick

pytestmark = pytest.mark.django_db
DAY_FOUR = datetime(2026, 3, 7, 10, 0, tzinfo=UTC)


def broken(*, now: datetime) -> None:
    raise ValueError(f"a row that nobody expected at {now:%H:%M}")


@pytest.mark.parametrize("step", ["raise_again", "_end_what_is_not_needed", "_plan_late_reviews", "_ask_elsewhere"])
def test_silence_becomes_a_call_whatever_else_fails(cast: Cast, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    session = afterwards.a_closed_session(cast)
    monkeypatch.setattr(ticking, step, broken)
    with pytest.raises(ExceptionGroup) as raised:
        ticking.tick(now=DAY_FOUR)
    assert [type(error) for error in raised.value.exceptions] == [ValueError]
    assert afterwards.follow_up(session, FollowUpKind.TWO_DAY).state == FollowUpState.CALL


def test_nobody_calls_after_a_death_whatever_fails(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    session = afterwards.a_closed_session(cast)
    Patient.objects.filter(pk=cast.patient.pk).update(died_on=NOW.date())
    monkeypatch.setattr(ticking, "_end_what_is_not_needed", broken)
    with pytest.raises(ExceptionGroup):
        ticking.tick(now=DAY_FOUR)
    assert afterwards.follow_up(session, FollowUpKind.TWO_DAY).state == FollowUpState.ASKED


def test_nobody_makes_a_call_about_what_is_over(cast: Cast) -> None:
    call = afterwards.a_message_call(cast, now=NOW)
    ticking.tick(now=afterwards.later(days=1))
    assert Call.objects.open().count() == 1
    session = Session.objects.get()
    record_reply(session=session, answers=afterwards.WELL, actor=actor_of(cast.desk), now=afterwards.later(days=3))
    ticking.tick(now=afterwards.later(days=3, hours=1))
    call.refresh_from_db()
    assert (call.outcome, call.settled_at) == (Outcome.OVER, afterwards.later(days=3, hours=1))
    assert TrailEntry.objects.get(verb="messages.call_settled").actor_kind == "system"
    with nothing_written():
        ticking.tick(now=afterwards.later(days=3, hours=1))


def test_a_tick_that_fails_does_not_beat(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    with time_machine.travel(NOW, tick=False) as clock:
        recall_tick()
        sweep_messages()
        assert client.get("/health/").status_code == 200
        clock.shift(121)
        sweep_messages()
        monkeypatch.setattr(ticking, "raise_again", broken)
        with pytest.raises(ExceptionGroup):
            recall_tick()
        answer = client.get("/health/")
        assert (answer.status_code, answer.json()["seconds_since"]["recall.tick"]) == (503, 121)
        monkeypatch.undo()
        recall_tick()
        assert client.get("/health/").status_code == 200
    assert Heartbeat.objects.count() == 2


def shortened(cast: Cast, session: Session) -> None:
    """The plan of two sessions becomes one of one."""
    plan = session.case.plans.get()
    plan.pk, plan.version, plan.sessions = None, plan.version + 1, 1
    plan._state.adding = True
    plan.save()


def test_a_course_that_was_shortened_has_its_review(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, sessions=2)
    ticking.tick(now=NOW + timedelta(days=1))
    assert not FollowUp.objects.filter(kind=FollowUpKind.REVIEW).exists()
    shortened(cast, session)
    for hours in (24, 25):
        ticking.tick(now=NOW + timedelta(hours=hours))
    review = afterwards.follow_up(session, FollowUpKind.REVIEW)
    # As if it had been planned when the session was closed: asked on day 21 and 28, a call on day 35.
    assert (review.state, review.due_at.date()) == (FollowUpState.WAITING, date(2026, 3, 24))
    invitation = DueMessage.objects.get(kind="review_invitation")
    assert (invitation.due_at, invitation.not_after) == (review.due_at, review.call_by)
    assert DueMessage.objects.get(kind="review_reminder").due_at == review.due_at + timedelta(days=7, hours=-1)


def test_invited_late_it_is_not_asked_again_at_once(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, sessions=2)
    shortened(cast, session)
    found = NOW + timedelta(days=27)
    ticking.tick(now=found)
    assert DueMessage.objects.get(kind="review_invitation").due_at == found
    assert not DueMessage.objects.filter(kind="review_reminder").exists()


def test_found_late_it_is_a_call_at_once(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, sessions=2)
    shortened(cast, session)
    ticking.tick(now=NOW + timedelta(days=60))
    assert afterwards.follow_up(session, FollowUpKind.REVIEW).state == FollowUpState.CALL
    assert not DueMessage.objects.filter(kind="review_invitation").exists()


def test_no_review_of_a_case_that_is_closed(cast: Cast) -> None:
    session = afterwards.a_closed_session(cast, sessions=2)
    shortened(cast, session)
    close_case(case=session.case, reason=CloseReason.PATIENT_ENDED, words="", actor=actor_of(cast.desk), now=NOW)
    ticking.tick(now=NOW + timedelta(days=1))
    assert not FollowUp.objects.filter(kind=FollowUpKind.REVIEW).exists()


@pytest.mark.parametrize(("status", "state"), [
    (Status.BOOKED, FollowUpState.ASKED),
    (Status.CHECKED_IN, FollowUpState.ASKED),
    (Status.FULFILLED, FollowUpState.CALL),
    (Status.NOSHOW, FollowUpState.CALL),
])  # fmt: skip
def test_a_review_that_is_over_and_not_written_down_is_asked_about(
    cast: Cast, status: Status, state: FollowUpState
) -> None:
    session = afterwards.a_closed_session(cast)
    reviews.surgery(cast)
    booking = reviews.booked(cast, datetime(2026, 4, 7, 9, 0, tzinfo=UTC))
    add_visit(case=session.case, booking=booking, purpose=VisitPurpose.REVIEW, actor=actor_of(cast.desk))
    Booking.objects.filter(pk=booking.pk).update(status=status)
    ticking.tick(now=NOW + timedelta(days=43))
    assert afterwards.follow_up(session, FollowUpKind.REVIEW).state == state
