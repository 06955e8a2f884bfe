"""From booked to finished, or cancelled, lapsed, not come; and back where the desk pressed the wrong button."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary import actions
from clinic.diary.models import COMING, HOLDING, Booking, ResourceClaim, Status
from clinic.diary.tasks import lapse
from clinic.messages.models import DueMessage, State
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import another_patient, at, book, pencil
from tests.support import nothing_written

# HL7 FHIR R4, value set AppointmentStatus: http://hl7.org/fhir/R4/valueset-appointmentstatus.html
FHIR_R4 = {
    "proposed",
    "pending",
    "booked",
    "arrived",
    "fulfilled",
    "cancelled",
    "noshow",
    "entered-in-error",
    "checked-in",
    "waitlist",
}
Act = Callable[..., Booking]
ACTS: dict[str, Act] = {
    "confirm": actions.confirm,
    "arrive": actions.arrive,
    "check_in": actions.check_in,
    "finish": actions.finish,
    "no_show": actions.no_show,
    "cancel": lambda **who: actions.cancel(by="patient", reason="ill", **who),
    "take_back": actions.take_back,
    "book_held": actions.book_held,
    "let_go": actions.let_go,
}
S = Status
ALLOWED = {
    "confirm": {S.PROPOSED: S.BOOKED},
    "arrive": {S.BOOKED: S.ARRIVED},
    "check_in": {S.BOOKED: S.CHECKED_IN, S.ARRIVED: S.CHECKED_IN},
    "finish": {S.BOOKED: S.FULFILLED, S.ARRIVED: S.FULFILLED, S.CHECKED_IN: S.FULFILLED},
    "no_show": {S.BOOKED: S.NOSHOW},
    "cancel": {S.PROPOSED: S.CANCELLED, S.BOOKED: S.CANCELLED, S.ARRIVED: S.CANCELLED},
    "take_back": dict.fromkeys((S.ARRIVED, S.CHECKED_IN, S.FULFILLED, S.NOSHOW, S.CANCELLED), S.BOOKED),
    "book_held": {S.PENDING: S.BOOKED},
    "let_go": {S.PENDING: S.CANCELLED},
}


def do(cast: Cast, act: str, booking: Booking, *, now: datetime = NOW) -> Booking:
    return ACTS[act](booking=booking, actor=actor_of(cast.desk), now=now)


def in_status(cast: Cast, status: Status) -> Booking:
    booking = book(cast, at(9), tell=False)
    values: dict[str, object] = {"status": status}
    if status in actions.TAKEN_BACK:
        values |= {"status_from": Status.BOOKED, "status_at": NOW, "status_by": str(cast.desk.pk)}
    if status in {Status.PROPOSED, Status.PENDING}:
        values["lapses_at"] = NOW + timedelta(days=1)
    if status == Status.CANCELLED:
        values["cancelled_at"] = NOW
        booking.claims.update(active=False)
    Booking.objects.filter(pk=booking.pk).update(**values)
    return Booking.objects.get(pk=booking.pk)


def test_every_status_is_one_of_fhir_r4() -> None:
    assert set(Status.values) == FHIR_R4
    assert set(COMING) < set(HOLDING) < set(Status)


@pytest.mark.parametrize("status", Status)
@pytest.mark.parametrize("act", ACTS)
def test_what_can_be_done_in_each_status(diary: Cast, act: str, status: Status) -> None:
    booking = in_status(diary, status)
    to = ALLOWED[act].get(status)
    if to is None:
        with nothing_written(), pytest.raises(actions.NotPossibleNow) as refusal:
            do(diary, act, booking)
        assert str(status.label) in str(refusal.value)
        return
    done = do(diary, act, booking)
    held = Booking.objects.get(pk=booking.pk)
    assert (done.status, held.status, held.version) == (to, to, booking.version + 1)
    active = set(held.claims.values_list("active", flat=True))
    assert active == {to != Status.CANCELLED}


def test_of_two_desks_one_is_told(diary: Cast) -> None:
    booking = book(diary, at(9))
    seen = Booking.objects.get(pk=booking.pk)
    do(diary, "arrive", booking)
    with nothing_written(), pytest.raises(actions.NotPossibleNow):
        do(diary, "cancel", seen)


def test_straight_into_the_chair_is_also_here(diary: Cast) -> None:
    assert do(diary, "check_in", book(diary, at(9)), now=at(9)).arrived_at == at(9)
    other = do(diary, "arrive", book(diary, at(10), patient=another_patient(diary)), now=at(9, 50))
    assert do(diary, "check_in", other, now=at(10)).arrived_at == at(9, 50)


def test_cancelling_says_who_and_why_and_frees_the_time(diary: Cast) -> None:
    booking = do(diary, "cancel", book(diary, at(9)))
    assert (booking.cancelled_by, booking.cancel_reason, booking.cancelled_at) == ("patient", "ill", NOW)
    assert booking.sequence == 1
    assert not ResourceClaim.objects.filter(active=True).exists()
    assert [row.kind for row in DueMessage.objects.exclude(state=State.CANCELLED)] == ["visit_cancelled"]
    assert TrailEntry.objects.filter(verb="diary.cancelled").count() == 1


def test_taking_a_cancellation_back(diary: Cast) -> None:
    cancelled = do(diary, "cancel", book(diary, at(9)))
    back = do(diary, "take_back", cancelled)
    assert (back.status, back.cancelled_at, back.cancel_reason, back.sequence) == ("booked", None, "", 2)
    # Nobody hears of a cancellation that had not gone out yet; the confirmation goes out with the newest version.
    waiting = DueMessage.objects.exclude(state=State.CANCELLED)
    assert [(row.kind, row.version) for row in waiting] == [("visit_confirmed", back.version)]


def test_a_cancelled_time_that_is_taken_does_not_come_back(diary: Cast) -> None:
    first = book(diary, at(9))
    cancelled = do(diary, "cancel", first)
    for number in range(2):
        book(diary, at(9), patient=another_patient(diary, number))
    with nothing_written(), pytest.raises(actions.SlotTaken):
        do(diary, "take_back", cancelled)


def test_a_pencilled_time_comes_back_pencilled_and_a_lapsed_one_never(diary: Cast) -> None:
    cancelled = do(diary, "cancel", pencil(diary, at(13)))
    assert do(diary, "take_back", cancelled).status == Status.PROPOSED
    actions.lapse_due(now=NOW + timedelta(days=1))
    lapsed = Booking.objects.get()
    with nothing_written(), pytest.raises(actions.NotPossibleNow):
        do(diary, "take_back", lapsed, now=NOW + timedelta(days=1))


def test_confirming_a_pencilled_time(diary: Cast) -> None:
    booking = do(diary, "confirm", pencil(diary, at(9)))
    assert (booking.status, booking.lapses_at) == ("booked", None)
    assert [row.kind for row in DueMessage.objects.exclude(state=State.CANCELLED)] == ["visit_confirmed"]
    assert actions.lapse_due(now=NOW + timedelta(days=30)) == 0


def test_lapsing(diary: Cast) -> None:
    first = pencil(diary, at(9))
    later = pencil(diary, at(13), patient=another_patient(diary), lapses_at=NOW + timedelta(days=2))
    with nothing_written():
        assert actions.lapse_due(now=NOW + timedelta(days=1, seconds=-1)) == 0
    assert actions.lapse_due(now=NOW + timedelta(days=1)) == 1
    held = Booking.objects.get(pk=first.pk)
    assert (held.status, held.cancelled_by, held.cancelled_at) == ("cancelled", "lapsed", NOW + timedelta(days=1))
    assert set(held.claims.values_list("active", flat=True)) == {False}
    assert Booking.objects.get(pk=later.pk).status == Status.PROPOSED
    kinds = DueMessage.objects.exclude(state=State.CANCELLED).filter(subject_id=first.pk).values_list("kind", flat=True)
    assert list(kinds) == ["visit_lapsed"]
    entry = TrailEntry.objects.get(verb="diary.lapsed")
    assert entry.actor_kind == "system"
    # A second tick, or ten of them, change nothing more.
    with nothing_written():
        assert actions.lapse_due(now=NOW + timedelta(days=1)) == 0
    with nothing_written():
        assert actions.lapse_due(now=NOW + timedelta(days=1, hours=1)) == 0


def test_the_tick_lapses_by_the_practices_clock(diary: Cast) -> None:
    booking = pencil(diary, at(9), lapses_at=NOW + timedelta(hours=1))
    # The real clock is far beyond NOW.
    lapse()
    assert Booking.objects.get(pk=booking.pk).status == Status.CANCELLED


def test_a_lapse_that_comes_too_late_spares_the_confirmed(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Confirmed between the look and the deed: the conditional update finds nothing to do."""
    booking = pencil(diary, at(9))
    due = list(Booking.objects.filter(pk=booking.pk))
    do(diary, "confirm", booking)

    class Due:
        def order_by(self, *_: str) -> list[Booking]:
            return due

    monkeypatch.setattr(
        Booking.objects,
        "filter",
        lambda *_args, **named: Due() if "lapses_at__lte" in named else Booking.objects.all().filter(*_args, **named),
    )
    with nothing_written():
        assert actions.lapse_due(now=NOW + timedelta(days=2)) == 0


@given(st.lists(st.sampled_from(sorted(ACTS)), max_size=12))
def test_no_order_of_acts_leaves_the_table_above(acts: list[str]) -> None:
    """The table is closed: from booked, whatever is pressed, only statuses of the standard are reached."""
    status = Status.BOOKED
    for act in acts:
        status = ALLOWED[act].get(status, status)
    assert status in set(Status)
    assert status not in {Status.PENDING, Status.WAITLIST, Status.ENTERED_IN_ERROR}
