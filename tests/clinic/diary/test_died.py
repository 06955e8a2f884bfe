"""Nobody gives a time to somebody who is noted as having died, and nothing is written; visits can be cancelled."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from clinic.diary import actions
from clinic.diary.actions.inviting import invite
from clinic.diary.lapsing import lapsing_soon
from clinic.diary.models import Booking, Status
from clinic.diary.outside import visits_outside
from clinic.diary.unconfirmed import not_confirmed
from clinic.diary.waitlist.listing import WantedVisit, WishDetails, add_wish
from clinic.patients.models import Patient
from clinic.patients.person import NotedAsDied
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary import house
from tests.support import nothing_written


@pytest.fixture
def booking(diary: Cast) -> Booking:
    visit = house.visit()
    visit.patient_may_book = True
    visit.save()
    return house.book(diary, house.at(10))


def noted(cast: Cast) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(died_on=NOW.date())


def wish(cast: Cast) -> object:
    details = WishDetails(since_on=house.DAY)
    return add_wish(
        patient=cast.patient, visit=WantedVisit(house.visit()), details=details, actor=actor_of(cast.desk), now=NOW
    )


ACTS: dict[str, Callable[[Cast, Booking], object]] = {
    "book": lambda cast, _: house.book(cast, house.at(12)),
    "pencil": lambda cast, _: house.pencil(cast, house.at(12)),
    "move": lambda cast, booking: actions.move(
        booking=booking, start_at=house.at(12), actor=actor_of(cast.desk), now=NOW
    ),
    "ask to pick": lambda cast, _: invite(
        patient=cast.patient, visit_type=house.visit(), user=cast.desk, actor=actor_of(cast.desk), now=NOW
    ),
    "wait for one": lambda cast, _: wish(cast),
}


@pytest.mark.parametrize("act", ACTS.values(), ids=ACTS)
def test_no_time_for_them(diary: Cast, booking: Booking, act: Callable[[Cast, Booking], object]) -> None:
    noted(diary)
    with nothing_written(), pytest.raises(NotedAsDied):
        act(diary, booking)
    # What is wrong is the note: taken back, the same is done.
    Patient.objects.filter(pk=diary.patient.pk).update(died_on=None)
    assert act(diary, booking)


def test_what_was_cancelled_stays_so(diary: Cast, booking: Booking) -> None:
    cancelled = actions.cancel(booking=booking, by="practice", reason="", actor=actor_of(diary.desk), now=NOW)
    noted(diary)
    with nothing_written(), pytest.raises(NotedAsDied):
        actions.take_back(booking=cancelled, actor=actor_of(diary.desk), now=NOW)


def test_their_visits_can_be_cancelled(diary: Cast, booking: Booking) -> None:
    noted(diary)
    gone = actions.cancel(booking=booking, by="practice", reason="", actor=actor_of(diary.desk), now=NOW)
    assert gone.status == Status.CANCELLED


def test_what_still_stands_is_something_to_do_and_no_call(diary: Cast, booking: Booking) -> None:
    pencilled = house.pencil(diary, house.at(12))
    tomorrow, late = house.DAY + timedelta(days=1), house.DAY + timedelta(days=30)
    Booking.objects.filter(pk=booking.pk).update(wall_on=tomorrow)

    def seen() -> tuple[list[int], list[int], list[int]]:
        outside = [one.booking.pk for one in visits_outside(diary.fernbrook, now=NOW)]
        lapsing = [one.pk for one in lapsing_soon(diary.fernbrook, until_on=late, now=NOW)]
        return outside, lapsing, [one.pk for one in not_confirmed(diary.fernbrook, until_on=tomorrow, now=NOW)]

    assert seen() == ([], [pencilled.pk], [booking.pk])
    noted(diary)
    assert seen() == ([booking.pk, pencilled.pk], [], [])
    one = visits_outside(diary.fernbrook, now=NOW)[0]
    assert not one.may_move
    assert [(miss.whom, str(miss.why)) for miss in one.misses] == [
        ("The patient", "noted as having died; cancel the visit")
    ]
    for visit in (booking, pencilled):
        actions.cancel(booking=visit, by="practice", reason="", actor=actor_of(diary.desk), now=NOW)
    assert seen() == ([], [], [])
