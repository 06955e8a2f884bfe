"""Somebody stands at the desk: what begins now is booked and noted as here in one press, or the page says why not."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.models import Booking, Resource, VisitCode, VisitType
from clinic.messages.models import DueMessage
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.clinic.diary.house import another_patient, at, book, visit
from tests.support import nothing_written

NOON = at(12, 7)


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOON, tick=False) as traveller:
        yield traveller


def address(cast: Cast) -> str:
    return reverse("walk_in", kwargs={"patient_pk": cast.patient.pk})


def press(client: Client, cast: Cast, start: str, code: str = VisitCode.PROBLEM) -> Answer:
    return client.post(address(cast), {"start_at": start, "visit_type": visit(code).pk})


def full_until(cast: Cast, hour: int) -> None:
    """Both rooms are taken from noon on."""
    for number in range(2):
        start_at = at(12)
        while start_at < at(hour):
            patient = another_patient(cast, number)
            start_at = book(cast, start_at, code=VisitCode.PROBLEM, patient=patient, tell=False, now=NOW).ends_at
            start_at += timedelta(minutes=-start_at.minute % 15)


def test_it_works(diary: Cast) -> None:
    desk = sign_in(diary.desk)
    assert address(diary) in desk.get(reverse("patient", kwargs={"pk": diary.patient.pk})).content.decode()
    page = desk.get(address(diary))
    # A problem first, at the next quarter; nothing between two quarters.
    assert [(one.visit_type.code, one.first.start_at) for one in page.context["offers"]] == [
        ("problem", at(12, 15)),
        ("consultation", at(12, 15)),
    ]
    answer = press(desk, diary, "2026-03-04T12:15:00+0000")
    booking = Booking.objects.get()
    assert answer.headers["Location"] == reverse("booking", kwargs={"pk": booking.pk})
    assert (booking.status, booking.arrived_at, booking.starts_at) == ("arrived", NOON, at(12, 15))
    assert booking.claims.filter(active=True).exists()
    assert not DueMessage.objects.exists()
    verbs = TrailEntry.objects.filter(subject_kind="booking").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["diary.booked", "diary.walked_in"]
    # Who is here already is pointed at instead of booked twice.
    assert "There is a visit today:" in desk.get(address(diary)).content.decode()
    with nothing_written():
        assert press(desk, diary, "2026-03-04T12:15:00+0000").status_code == 409


def test_why_not_now_and_what_is_next(diary: Cast) -> None:
    full_until(diary, 14)
    desk = sign_in(diary.desk)
    page = desk.get(address(diary))
    offer = page.context["offers"][0]
    assert (offer.first, len(offer.later), offer.later[0].start_at) == (None, 3, at(14))
    text = page.content.decode()
    assert "Nothing begins within the hour:" in text
    assert "no room is free" in text
    # One press books it like any other visit: nobody is noted as here for it.
    find_time = reverse("find_time", kwargs={"patient_pk": diary.patient.pk})
    assert f'action="{find_time}?visit_type={offer.visit_type.pk}"' in text
    desk.post(f"{find_time}?visit_type={offer.visit_type.pk}", {"start_at": "2026-03-04T14:00:00+0000"})
    assert Booking.objects.get(patient=diary.patient).status == "booked"


def test_an_hour_is_the_longest_wait(diary: Cast) -> None:
    assert diary.patient.pk
    desk = sign_in(diary.desk)
    with nothing_written():
        late = press(desk, diary, "2026-03-04T13:15:00+0000")
    assert (late.status_code, "more than an hour away" in late.content.decode()) == (409, True)
    press(desk, diary, "2026-03-04T13:00:00+0000")
    assert Booking.objects.get().starts_at == at(13)


def test_another_desk_was_faster(diary: Cast) -> None:
    assert diary.patient.pk
    desk = sign_in(diary.desk)
    for number in range(2):
        book(diary, at(12, 15), code=VisitCode.PROBLEM, patient=another_patient(diary, number), tell=False)
    with nothing_written():
        refused = press(desk, diary, "2026-03-04T12:15:00+0000")
    assert refused.status_code == 409
    assert "That time has just been taken." in refused.content.decode()
    assert refused.context["offers"][0].first.start_at > at(12, 15)


def test_wrong_role_and_other_site(diary: Cast) -> None:
    assert diary.patient.pk
    elsewhere = reverse("walk_in", kwargs={"patient_pk": diary.stranger.pk})
    manager, desk = sign_in(diary.manager), sign_in(diary.desk)
    with nothing_written():
        assert press(manager, diary, "2026-03-04T12:15:00+0000").status_code == 403
        assert desk.get(elsewhere).status_code == 404


@pytest.mark.parametrize("start", ["", "now", "2026-03-04T12:00:00+0000", "2026-03-04T12:16:00+0000"])
def test_a_time_that_was_not_offered(diary: Cast, start: str) -> None:
    assert diary.patient.pk
    desk = sign_in(diary.desk)
    with nothing_written():
        assert press(desk, diary, start).status_code in {409, 422}
        assert press(desk, diary, "2026-03-04T12:15:00+0000", VisitCode.TREATMENT).status_code == 422


def test_when_nobody_works_or_nothing_is_set_up(diary: Cast, clock: time_machine.Traveller) -> None:
    clock.move_to(at(20, 30))
    page = sign_in(diary.desk).get(address(diary))
    assert page.context["offers"][0].later[0].start_at == at(9) + timedelta(days=1)
    VisitType.objects.update(active=False)
    Resource.objects.update(active=False)
    assert "once a manager has set up" in sign_in(diary.desk).get(address(diary)).content.decode()
    assert timedelta(hours=1) == actions.WAIT_AT_MOST
