"""Nobody gives a time to somebody who is noted as having died, and nothing is written; visits can be cancelled."""

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.actions.inviting import invite
from clinic.diary.lapsing import lapsing_soon
from clinic.diary.models import Booking, Status, WaitingWish
from clinic.diary.outside import visits_outside
from clinic.diary.unconfirmed import not_confirmed
from clinic.diary.waitlist.listing import WantedVisit, WishDetails, add_wish
from clinic.messages.conditions import Drop, judge
from clinic.messages.models import DueMessage, State
from clinic.patients.models import Patient
from clinic.patients.person import NotedAsDied
from tests.cast import NOW, Cast, actor_of, sign_in
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


PAGES: dict[str, Callable[[Cast], str]] = {
    "find": lambda cast: reverse("find_time", args=[cast.patient.pk]),
    "walk in": lambda cast: reverse("walk_in", args=[cast.patient.pk]),
    "wait": lambda cast: reverse("waitlist_add", args=[cast.patient.pk]),
    "change what is waited for": lambda _: reverse("waitlist_change", args=[WaitingWish.objects.get().pk]),
    "move": lambda _: reverse("booking_move", args=[Booking.objects.get().pk]),
}


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_every_page_with_times_says_it_and_offers_none(
    diary: Cast, booking: Booking, page: Callable[[Cast], str]
) -> None:
    assert booking.status == Status.BOOKED
    wish(diary)
    noted(diary)
    desk, path = sign_in(diary.desk), page(diary)
    with nothing_written():
        shown, refused = desk.get(path), desk.post(path, {"start_at": "2026-03-04T12:00:00+0000"})
    assert (shown.status_code, refused.status_code) == (200, 409)
    for answer in (shown, refused):
        text = answer.content.decode()
        assert "Noted as died:" in text
        assert "start_at" not in text
        assert f'action="{path}"' not in text
        assert "Free times" not in text


@time_machine.travel(NOW, tick=False)
def test_a_cancelled_visit_of_theirs_is_told_to_nobody(diary: Cast, booking: Booking) -> None:
    noted(diary)
    desk = sign_in(diary.desk)
    page = desk.get(reverse("booking", args=[booking.pk])).content.decode()
    assert reverse("booking_move", args=[booking.pk]) not in page
    asked = {"by": "practice", "version": booking.version}
    said = desk.post(reverse("booking_cancel", args=[booking.pk]), asked, follow=True).content.decode()
    booking.refresh_from_db()
    assert booking.status == Status.CANCELLED
    assert "the patient is told" not in said
    assert "nothing is sent" in said
    for message in DueMessage.objects.filter(patient=diary.patient):
        verdict = judge(message, now=NOW)
        assert isinstance(verdict, Drop)
        assert verdict.state == State.CANCELLED


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
