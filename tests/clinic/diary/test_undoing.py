"""Taking back the last step: the same day, whoever took it; and what is kept of a visit that did not happen."""

from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.diary import actions
from clinic.diary.models import Booking, Status, VisitCode
from tests.answer import Answer
from tests.cast import Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book
from tests.support import nothing_written

Act = Callable[..., Booking]
HERE = at(9, 5)


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(HERE, tick=False) as traveller:
        yield traveller


def cancelled(cast: Cast, booking: Booking | None = None) -> Booking:
    booking = booking or book(cast, at(14))
    return actions.cancel(
        booking=booking, by="patient", why="ill", reason="A cold.", actor=actor_of(cast.desk), now=HERE
    )


def press(client: Client, booking: Booking, act: str = "take-back") -> Answer:
    return client.post(reverse("booking_act", kwargs={"pk": booking.pk, "act": act}))


def offered(client: Client, booking: Booking) -> list[str]:
    page = client.get(reverse("booking", kwargs={"pk": booking.pk}))
    return [code for code, _word in page.context["acts"]]


@pytest.mark.parametrize(
    ("acts", "before"),
    [
        ([actions.arrive], Status.BOOKED),
        ([actions.no_show], Status.BOOKED),
        ([actions.check_in], Status.BOOKED),
        ([actions.arrive, actions.check_in], Status.ARRIVED),
        ([actions.arrive, actions.finish], Status.ARRIVED),
        ([actions.arrive, actions.check_in, actions.finish], Status.CHECKED_IN),
    ],
)
def test_one_step_back(diary: Cast, acts: list[Act], before: Status) -> None:
    booking = book(diary, at(9))
    for act in acts:
        booking = act(booking=booking, actor=actor_of(diary.desk), now=HERE)
    desk = sign_in(diary.desk)
    assert "take-back" in offered(desk, booking)
    press(desk, booking)
    held = Booking.objects.get()
    assert (held.status, held.arrived_at is None) == (before, before == Status.BOOKED)


@pytest.mark.parametrize(
    ("acts", "steps"),
    [
        ([actions.arrive, actions.check_in, actions.finish], [Status.CHECKED_IN, Status.ARRIVED, Status.BOOKED]),
        ([actions.check_in, actions.finish], [Status.CHECKED_IN, Status.ARRIVED, Status.BOOKED]),
        ([actions.arrive, actions.finish], [Status.ARRIVED, Status.BOOKED]),
        ([actions.finish], [Status.BOOKED]),
    ],
)
def test_step_by_step_to_the_beginning(diary: Cast, acts: list[Act], steps: list[Status]) -> None:
    """Keys pressed on a wrong row leave no visit of somebody who never came."""
    booking, desk = book(diary, at(9)), sign_in(diary.desk)
    for act in acts:
        booking = act(booking=booking, actor=actor_of(diary.desk), now=HERE)
    for status in steps:
        press(desk, booking)
        assert Booking.objects.get().status == status
    held = Booking.objects.get()
    assert (held.arrived_at, held.status_from, held.status_at) == (None, "", None)
    assert "take-back" not in offered(desk, booking)
    with nothing_written():
        assert press(desk, booking).status_code == 409


def test_the_step_of_a_colleague_stays_theirs(diary: Cast) -> None:
    booking = actions.arrive(booking=book(diary, at(9)), actor=actor_of(diary.desk), now=HERE)
    booking = actions.check_in(booking=booking, actor=actor_of(diary.assistant), now=HERE)
    booking = actions.take_back(booking=booking, actor=actor_of(diary.assistant), now=HERE)
    with nothing_written(), pytest.raises(actions.NotYoursToTakeBack):
        actions.take_back(booking=booking, actor=actor_of(diary.assistant), now=HERE)
    assert actions.take_back(booking=booking, actor=actor_of(diary.desk), now=HERE).status == Status.BOOKED


def test_only_by_whoever_did_it_and_only_that_day(diary: Cast, clock: time_machine.Traveller) -> None:
    booking = cancelled(diary)
    colleague = sign_in(diary.assistant)
    assert "take-back" not in offered(colleague, booking)
    with nothing_written():
        refused = press(colleague, booking)
    assert refused.status_code == 409
    assert "on the same day, by whoever made it" in refused.content.decode()
    clock.move_to(HERE + timedelta(days=1))
    with nothing_written(), pytest.raises(actions.NotYoursToTakeBack):
        actions.take_back(booking=booking, actor=actor_of(diary.desk), now=HERE + timedelta(days=1))


def test_the_time_went_to_somebody_else(diary: Cast) -> None:
    """The same guard decides; the page says so, with what is free next."""
    booking = cancelled(diary)
    for number in range(2):
        book(diary, at(14), patient=another_patient(diary, number), tell=False)
    desk = sign_in(diary.desk)
    with nothing_written():
        refused = press(desk, booking)
    text = refused.content.decode()
    assert refused.status_code == 409
    assert "That time has just been taken. Pick one of the next free times." in text
    assert 'name="start_at" value="2026-03-04T14:45:00+0000"' in text
    assert f'action="{reverse("find_time", kwargs={"patient_pk": booking.patient_id})}?visit_type=' in text


def test_the_patient_has_another_visit_by_then(diary: Cast) -> None:
    booking = cancelled(diary)
    book(diary, at(14))
    with nothing_written(), pytest.raises(actions.PatientBusy):
        actions.take_back(booking=booking, actor=actor_of(diary.desk), now=HERE)


def test_a_time_that_has_passed_stays_cancelled(diary: Cast) -> None:
    booking = cancelled(diary)
    with nothing_written(), pytest.raises(actions.InThePast):
        actions.take_back(booking=booking, actor=actor_of(diary.desk), now=at(14, 1))


def test_a_treatment_that_began_is_the_chairs(diary: Cast) -> None:
    booking = book(diary, at(10), code=VisitCode.TREATMENT, cycles=4)
    for act in (actions.check_in, actions.finish):
        booking = act(booking=booking, actor=actor_of(diary.desk), now=HERE)
        assert "take-back" not in offered(sign_in(diary.desk), booking)
        with nothing_written(), pytest.raises(actions.NotPossibleNow):
            actions.take_back(booking=booking, actor=actor_of(diary.desk), now=HERE)


def test_who_why_and_with_how_much_notice(diary: Cast) -> None:
    desk = sign_in(diary.desk)
    booking = book(diary, at(14))
    address = reverse("booking_cancel", kwargs={"pk": booking.pk})
    said = {"by": "patient", "why": "other-duties", "reason": "Train strike.", "version": booking.version}
    desk.post(address, said)
    text = desk.get(reverse("booking", kwargs={"pk": booking.pk})).content.decode()
    for words in ("the patient", "work, family or travel: Train strike.", "late:", "4 h 55 min before, where 24 h"):
        assert words in text
    # A later setting changes nothing about it; the next visit is measured by it.
    Site.objects.filter(pk=diary.fernbrook.pk).update(notice_hours=2)
    assert Booking.objects.get(pk=booking.pk).was_late
    diary.fernbrook.refresh_from_db()
    early = cancelled(diary, book(diary, at(15)))
    assert (early.was_late, early.notice) == (False, at(15) - HERE)
    assert "in time:" in desk.get(reverse("booking", kwargs={"pk": early.pk})).content.decode()


@pytest.mark.parametrize("hours", [23, 24, 25])
def test_exactly_the_asked_notice_is_in_time(diary: Cast, hours: int) -> None:
    booking = book(diary, at(14) + timedelta(days=2))
    when = booking.starts_at - timedelta(hours=hours)
    done = actions.cancel(booking=booking, by="practice", reason="", actor=actor_of(diary.desk), now=when)
    assert done.was_late == (hours < 24)


def test_why_somebody_did_not_come(diary: Cast) -> None:
    booking = book(diary, at(9))
    desk = sign_in(diary.desk)
    address = reverse("booking_why", kwargs={"pk": booking.pk})
    with nothing_written():
        assert desk.post(address, {"why": "ill"}).status_code == 409
    press(desk, booking, "no-show")
    with nothing_written():
        assert desk.post(address, {"why": "lazy"}).status_code == 422
    assert desk.post(address, {"why": "misunderstood", "reason": "Rang at ten."}).status_code == 302
    held = Booking.objects.get()
    assert (held.status, held.why, held.was_late) == ("noshow", "misunderstood", False)
    text = desk.get(reverse("booking", kwargs={"pk": booking.pk})).content.decode()
    assert "mistook the day or the time: Rang at ten." in text
    assert "noted why a visit did not happen" in text


def test_a_reason_that_is_none_is_refused_by_the_database(diary: Cast) -> None:
    book(diary, at(14))
    with pytest.raises(IntegrityError, match="booking_why_known"), transaction.atomic():
        Booking.objects.update(why="lazy")
