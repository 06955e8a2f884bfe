"""Two records of one person: each message goes out once, to the person, and their links open what they opened."""

import re
from datetime import date, timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from clinic.messages.models import DueMessage, PrivateLink, State
from clinic.messages.sweep import sweep_until_settled
from clinic.patients.models import Patient, Purpose
from tests.cast import NOW, Cast
from tests.clinic.diary import house
from tests.clinic.messages.entering import BIRTH, known, opened
from tests.clinic.patients.test_joining import said
from tests.clinic.patients.twice import join, second_record
from tests.support import nothing_written

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


@pytest.fixture
def other(cast: Cast) -> Patient:
    house.furnish(cast)
    return second_record(cast)


def address_sent() -> str:
    address = re.search(r"https?://[^/]+(/p/\S+)", str(mail.outbox[0].body))
    assert address is not None
    return address[1]


def test_what_is_due_goes_to_the_address_that_holds(cast: Cast, other: Patient) -> None:
    house.book(cast, house.at(10), patient=other)
    house.book(cast, house.at(14))
    join(cast, cast.patient, other)
    sweep_until_settled(now=NOW)
    sweep_until_settled(now=NOW + timedelta(hours=1))
    assert [sent.to for sent in mail.outbox] == [["amara@example.org"]] * 2
    rows = DueMessage.objects.filter(kind="visit_confirmed")
    assert {(row.patient_id, row.state) for row in rows} == {(cast.patient.pk, State.HANDED_OVER)}


def test_what_either_has_refused_is_called_off(cast: Cast, other: Patient) -> None:
    house.book(cast, house.at(10))
    said(cast, other, Purpose.APPOINTMENT, False)
    join(cast, cast.patient, other)
    sweep_until_settled(now=NOW)
    assert mail.outbox == []
    assert set(DueMessage.objects.values_list("state", flat=True)) == {State.CANCELLED}


def test_what_went_out_counts_for_both(cast: Cast, other: Patient) -> None:
    """No more than one message a day: also where the first one went to the other record."""
    house.book(cast, house.at(10), patient=other)
    sweep_until_settled(now=NOW)
    join(cast, cast.patient, other)
    assert DueMessage.objects.of_person(cast.patient).filter(state=State.HANDED_OVER).count() == 1
    assert not DueMessage.objects.filter(patient=other).exists()


def test_its_link_opens_the_same_page(cast: Cast, other: Patient) -> None:
    house.book(cast, house.at(10), patient=other)
    sweep_until_settled(now=NOW)
    phone = known(Client(), address_sent())
    before = phone.get(reverse("before_visit"))
    join(cast, cast.patient, other, now=NOW + timedelta(minutes=5))
    after = phone.get(reverse("before_visit"))
    assert (before.status_code, after.status_code) == (200, 200)
    assert "10:00" in after.content.decode()


def test_whoever_is_in_by_another_date_of_birth_shows_it_again(cast: Cast) -> None:
    """Their link now opens the pages of the kept record: its date of birth is asked for."""
    house.furnish(cast)
    other = second_record(cast, birth_on=date(1971, 1, 2))
    house.book(cast, house.at(10), patient=other)
    sweep_until_settled(now=NOW)
    phone = opened(Client(), address_sent())
    phone.post(reverse("private_who"), {"birth_on": "2 1 1971"})
    assert phone.get(reverse("preferences")).status_code == 200
    join(cast, cast.patient, other, birth_word="Read again.", now=NOW + timedelta(minutes=1))
    asked = phone.get(reverse("preferences"))
    assert (asked.status_code, asked.headers["Location"].split("?")[0]) == (302, reverse("private_who"))
    phone.post(reverse("private_who"), {"birth_on": "2 1 1971"})
    assert phone.get(reverse("preferences")).status_code == 302
    phone.post(reverse("private_who"), {"birth_on": BIRTH})
    assert phone.get(reverse("preferences")).status_code == 200


def test_the_date_of_birth_that_held_when_the_page_was_opened_is_no_wrong_try(cast: Cast) -> None:
    """It opens nothing, and nobody loses the page for it; any other date counts as ever."""
    house.furnish(cast)
    other = second_record(cast, birth_on=date(1971, 1, 2))
    house.book(cast, house.at(10), patient=other)
    sweep_until_settled(now=NOW)
    address = address_sent()
    before, after = opened(Client(), address), Client()
    join(cast, cast.patient, other, birth_word="Read again.", now=NOW + timedelta(minutes=1))
    with nothing_written():
        for _ in range(6):
            answer = before.post(reverse("private_who"), {"birth_on": "2 1 1971"})
            assert answer.status_code == 422
    assert "have corrected it since" in answer.content.decode()
    assert before.get(reverse("preferences")).status_code == 302
    before.post(reverse("private_who"), {"birth_on": "3 1 1971"})
    # Opened since, the page never had that date: it is a wrong one.
    opened(after, address).post(reverse("private_who"), {"birth_on": "2 1 1971"})
    assert PrivateLink.objects.get().birth_tries == 2
    before.post(reverse("private_who"), {"birth_on": BIRTH})
    assert before.get(reverse("preferences")).status_code == 200
