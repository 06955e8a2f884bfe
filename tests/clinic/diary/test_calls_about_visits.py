"""Whoever wants a call or paper is told like anybody else: of the visit as it stands, and of no visit that changed."""

from datetime import datetime, timedelta

import pytest

from clinic.diary import actions
from clinic.diary.models import Booking
from clinic.messages.actions.posting import make_batch, post_batch
from clinic.messages.models import Call, DueMessage, Outcome, State, Why
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import DAY, at, book, pencil


def by(cast: Cast, channel: str) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(channel=channel, address="3 Mill Lane\nFernbrook FB1 2AB")


def told(*, now: datetime = NOW) -> list[tuple[str, str]]:
    """What each call is about, and how it ended."""
    sweep(now=now)
    return list(Call.objects.order_by("pk").values_list("message__kind", "outcome"))


def cancel(cast: Cast, booking: Booking) -> Booking:
    return actions.cancel(booking=booking, by="practice", reason="", actor=actor_of(cast.desk), now=NOW)


@pytest.mark.parametrize("channel", ["phone", "letter"])
def test_nobody_calls_or_writes_about_a_visit_that_changed(diary: Cast, channel: str) -> None:
    """It would announce a time that stands no more; the change itself is a call of its own."""
    by(diary, channel)
    booking = book(diary, at(9))
    assert told() == [("visit_confirmed", "")]
    moved = actions.move(booking=booking, start_at=at(14), actor=actor_of(diary.desk), now=NOW)
    assert told() == [("visit_confirmed", Outcome.OVER), ("visit_moved", "")]
    cancel(diary, moved)
    assert told() == [("visit_confirmed", Outcome.OVER), ("visit_moved", Outcome.OVER), ("visit_cancelled", "")]


def test_a_call_that_was_made_stays_as_it_went(diary: Cast) -> None:
    by(diary, "phone")
    booking = book(diary, at(9))
    told()
    Call.objects.update(settled_at=NOW, settled_by="Dana Popescu", outcome=Outcome.REACHED)
    cancel(diary, booking)
    assert told() == [("visit_confirmed", Outcome.REACHED), ("visit_cancelled", "")]


def test_a_call_that_tells_of_other_times_too_stays(diary: Cast) -> None:
    """Pencilled in one go, told by one mail, which came back: there is no other call about the second time."""
    first, second = pencil(diary, at(9)), pencil(diary, at(9, day=DAY + timedelta(days=7)))
    sweep(now=NOW)
    message = DueMessage.objects.get(state=State.HANDED_OVER)
    assert message.subject == ("booking", first.pk)
    Call.objects.create(message=message, site=first.site, patient=first.patient, why=Why.BOUNCED, wanted_at=NOW)
    moved = actions.move(booking=first, start_at=at(14), actor=actor_of(diary.desk), now=NOW)
    assert Call.objects.get().settled_at is None
    cancel(diary, second)
    actions.move(booking=moved, start_at=at(9), actor=actor_of(diary.desk), now=NOW)
    assert Call.objects.get(message=message).outcome == Outcome.OVER


def test_a_printed_letter_about_it_does_not_count_as_posted(diary: Cast) -> None:
    by(diary, "letter")
    booking = book(diary, at(9, day=DAY + timedelta(days=14)))
    told()
    batch = make_batch(site=diary.fernbrook, user=diary.desk, actor=actor_of(diary.desk), now=NOW)
    assert batch is not None
    cancel(diary, booking)
    assert post_batch(batch=batch, user=diary.desk, actor=actor_of(diary.desk), now=NOW) == 0
    assert Call.objects.get(message__kind="visit_confirmed").outcome == Outcome.OVER
