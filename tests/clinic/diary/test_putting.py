"""A visit put elsewhere on the page of the diary: the same checks as any move, and said in place how it went."""

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clinic.diary.models import Booking
from clinic.messages.models import DueMessage
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, elsewhere_booking, pencil, resource
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("_tuesday")


@pytest.fixture
def _tuesday() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


def put(client: Client, booking: Booking, **changes: object) -> Answer:
    willow = resource("Willow").pk
    asked: dict[str, object] = {"start_at": "2026-03-04T10:15:00Z", "of": willow, "to": willow}
    sent = asked | {"version": booking.version} | changes
    address = reverse("booking_put", kwargs={"pk": booking.pk})
    return client.post(address, {name: value for name, value in sent.items() if value != ""})


def held(booking: Booking) -> set[str]:
    return set(booking.claims.filter(active=True).values_list("resource__name", flat=True))


def test_it_works(diary: Cast) -> None:
    booking = book(diary, at(9))
    page = put(sign_in(diary.desk), booking)
    booking.refresh_from_db()
    assert page.status_code == 200
    assert "Moved to Wed 4 Mar 2026, 10:15" in page.content.decode()
    assert booking.starts_at == at(10, 15)
    assert DueMessage.objects.about(("booking", booking.pk)).filter(kind="visit_moved").count() == 1


def test_wrong_role(diary: Cast) -> None:
    booking, client = book(diary, at(9)), sign_in(diary.manager)
    with nothing_written():
        assert put(client, booking).status_code == 403


def test_other_site(diary: Cast) -> None:
    booking, client = elsewhere_booking(diary), sign_in(diary.desk)
    with nothing_written():
        assert put(client, booking).status_code == 404


def test_wrong_method(diary: Cast) -> None:
    booking = book(diary, at(9))
    assert sign_in(diary.desk).get(reverse("booking_put", kwargs={"pk": booking.pk})).status_code == 405


def test_to_another_room_and_back_with_the_same_people(diary: Cast) -> None:
    book(diary, at(10, 15), patient=another_patient(diary))
    booking = book(diary, at(9))
    people = held(booking) - {"Willow"}
    page = put(sign_in(diary.desk), booking, start_at="2026-03-04T09:00:00Z", to=resource("Alder").pk)
    booking.refresh_from_db()
    assert (page.status_code, booking.starts_at, held(booking)) == (200, at(9), people | {"Alder"})
    back = page.context["back"]
    assert (back["start_at"], back["of"], back["to"]) == (at(9), resource("Alder").pk, resource("Willow").pk)
    assert put(sign_in(diary.desk), booking, **back | {"start_at": "2026-03-04T09:00:00Z"}).status_code == 200
    assert held(booking) == people | {"Willow"}


def test_to_another_person(diary: Cast) -> None:
    booking = book(diary, at(9))
    assert "Cleo Haddad" in held(booking)
    cleo, bo = resource("Cleo Haddad").pk, resource("Bo Lindqvist").pk
    assert put(sign_in(diary.desk), booking, start_at="2026-03-04T09:00:00Z", of=cleo, to=bo).status_code == 200
    assert "Bo Lindqvist" in held(booking)
    assert "Cleo Haddad" not in held(booking)


def test_whoever_is_not_free_is_replaced(diary: Cast) -> None:
    """Cleo is with somebody at ten; the visit keeps the room that was asked for, and Bo takes it."""
    booking = book(diary, at(9))
    book(diary, at(10), patient=another_patient(diary), person=resource("Cleo Haddad").pk)
    other = book(diary, at(13), patient=another_patient(diary, 2))
    assert "Willow" in held(other)
    assert (
        put(sign_in(diary.desk), booking, start_at="2026-03-04T10:00:00Z", to=resource("Alder").pk).status_code == 200
    )
    assert {"Alder", "Bo Lindqvist"} <= held(booking)


def test_in_a_week_by_day_and_wall_clock(diary: Cast) -> None:
    booking = book(diary, at(9))
    page = put(sign_in(diary.desk), booking, start_at="", day=(DAY + timedelta(days=2)).isoformat(), time="14:30")
    booking.refresh_from_db()
    assert (page.status_code, booking.starts_at) == (200, at(14, 30, DAY + timedelta(days=2)))


REFUSED: list[tuple[dict[str, object], int, str]] = [
    ({"start_at": "2026-03-04T11:00:00Z"}, 409, "just been taken"),
    ({"start_at": "2026-03-04T16:45:00Z"}, 409, "Nobody and nothing suitable"),
    ({"start_at": "2026-03-07T10:00:00Z"}, 409, "Nobody and nothing suitable"),
    ({"start_at": "2026-03-03T08:00:00Z"}, 409, "has passed"),
    ({"version": 7}, 409, "Somebody else changed"),
    ({"version": ""}, 409, "Somebody else changed"),
    ({"of": 0}, 409, "Somebody else changed"),
    ({"to": 0}, 422, "cannot be put there"),
    ({"start_at": ""}, 422, "cannot be put there"),
    ({"start_at": "", "day": "2026-03-04"}, 422, "cannot be put there"),
    ({"start_at": "soon"}, 422, "cannot be put there"),
]


def test_what_cannot_be_is_said_in_place(diary: Cast) -> None:
    for number, room in enumerate(("Willow", "Alder")):
        assert room in held(book(diary, at(11), patient=another_patient(diary, number)))
    booking, client = book(diary, at(9)), sign_in(diary.desk)
    with nothing_written():
        answers = [(changes, put(client, booking, **changes), status, words) for changes, status, words in REFUSED]
    for changes, page, status, words in answers:
        text = page.content.decode()
        assert page.status_code == status, changes
        assert words in text, changes
        assert 'role="alert"' in text


def test_neither_a_visit_that_is_over_nor_to_a_room_elsewhere(diary: Cast) -> None:
    elsewhere_booking(diary)
    booking, client = pencil(diary, at(9)), sign_in(diary.desk)
    with nothing_written():
        assert put(client, booking, to=resource("Ash").pk).status_code == 422
    Booking.objects.filter(pk=booking.pk).update(status="fulfilled")
    with nothing_written():
        assert put(client, booking).status_code == 409
