"""Pencilled times hold until their date, then they are anybody's; of a lapse and a confirmation one stands."""

from datetime import datetime, timedelta

import pytest

from clinic.diary import actions
from clinic.diary.models import Booking, Status
from clinic.diary.openings import Wanted, find
from clinic.messages.models import DueMessage
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import DAY, another_patient, at, book, pencil, resource, visit
from tests.support import nothing_written

pytestmark = pytest.mark.django_db
OVER = NOW + timedelta(hours=2)


@pytest.fixture
def pencilled(diary: Cast) -> Booking:
    """Both clinicians would be free otherwise: the second is busy, so that there is one time to have."""
    assert resource("Bo Lindqvist").pk
    pencil(diary, at(9), patient=another_patient(diary, 7), lapses_at=NOW + timedelta(days=1))
    return pencil(diary, at(9), lapses_at=OVER)


def first_start(cast: Cast, now: datetime) -> datetime:
    wanted = Wanted(visit("treatment"), 4, now=now)
    return find(site=cast.fernbrook, wanted=wanted, earliest_at=at(9), latest_at=at(17), limit=1).found[0].start_at


def outcomes(booking: Booking) -> list[str]:
    verbs = ["diary.confirmed", "diary.lapsed"]
    return list(TrailEntry.objects.filter(verb__in=verbs, subject_id=str(booking.pk)).values_list("verb", flat=True))


def test_after_its_date_it_is_free_though_no_tick_has_come(diary: Cast, pencilled: Booking) -> None:
    """Searches offer the time; whoever books it lets the pencilled one lapse, and its patient is told."""
    assert first_start(diary, OVER - timedelta(seconds=1)) > at(9)
    assert first_start(diary, OVER) == at(9)
    taken = book(diary, at(9), code="treatment", cycles=4, patient=another_patient(diary), now=OVER)
    pencilled.refresh_from_db()
    assert (pencilled.status, pencilled.cancelled_by, taken.status) == ("cancelled", "lapsed", "booked")
    assert list(DueMessage.objects.about(("booking", pencilled.pk)).open().values_list("kind", flat=True)) == [
        "visit_lapsed"
    ]
    with nothing_written():
        assert actions.lapse_due(now=OVER) == 0


def test_who_is_refused_lets_nothing_lapse(diary: Cast, pencilled: Booking) -> None:
    third = another_patient(diary)
    with nothing_written(), pytest.raises(actions.SlotTaken):
        # Both clinicians are busy until the date.
        book(diary, at(9), code="treatment", cycles=4, patient=third, now=NOW)
    assert Booking.objects.get(pk=pencilled.pk).status == Status.PROPOSED


@pytest.mark.parametrize("act", ["confirm", "move"])
def test_after_its_date_nobody_goes_on_with_it(diary: Cast, pencilled: Booking, act: str) -> None:
    more = {"start_at": at(13)} if act == "move" else {}
    with nothing_written(), pytest.raises(actions.PencilEnded, match="until Tue 3 Mar 2026, 11:00"):
        getattr(actions, act)(booking=pencilled, actor=actor_of(diary.desk), now=OVER, **more)


def test_of_a_lapse_and_a_confirmation_one_stands(diary: Cast, pencilled: Booking) -> None:
    """Both look, then both write: the later one finds another version and does nothing, whichever it is."""
    desk = Booking.objects.select_related("site", "patient", "visit_type").get(pk=pencilled.pk)
    assert actions.lapse_due(now=OVER) == 1
    with nothing_written(), pytest.raises(actions.NotPossibleNow):
        # A desk whose clock is a little behind, with the page from before.
        actions.confirm(booking=desk, actor=actor_of(diary.desk), now=OVER - timedelta(seconds=1))
    assert outcomes(pencilled) == ["diary.lapsed"]
    assert not Booking.objects.get(pk=pencilled.pk).claims.filter(active=True).exists()


def test_the_other_way_round(diary: Cast, pencilled: Booking) -> None:
    stale = Booking.objects.get(pk=pencilled.pk)
    actions.confirm(booking=pencilled, actor=actor_of(diary.desk), now=OVER - timedelta(seconds=1))
    with nothing_written(), pytest.raises(actions.NotPossibleNow):
        actions.stepping.lapse(stale, now=OVER)
    assert outcomes(pencilled) == ["diary.confirmed"]
    assert Booking.objects.get(pk=pencilled.pk).claims.filter(active=True).exists()


def test_moved_forward_it_lapses_before_it_begins(diary: Cast) -> None:
    """Otherwise it would stand unconfirmed on its day, and be told as lapsed after it."""
    until = at(12, day=DAY + timedelta(days=2))
    booking = pencil(diary, at(9, day=DAY + timedelta(days=5)), code="consultation", cycles=0, lapses_at=until)
    who = actor_of(diary.desk)
    later = actions.move(booking=booking, start_at=at(10, day=DAY + timedelta(days=6)), actor=who, now=NOW)
    assert later.lapses_at == until
    sooner = actions.move(booking=later, start_at=at(9), actor=who, now=NOW)
    assert sooner.lapses_at == at(9)
