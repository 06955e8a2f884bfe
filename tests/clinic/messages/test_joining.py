"""Two records of one person: each message goes out once, to the person, and their links open what they opened."""

import re
from datetime import timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep_until_settled
from clinic.patients.models import Patient, Purpose
from tests.cast import NOW, Cast
from tests.clinic.diary import house
from tests.clinic.messages.entering import known
from tests.clinic.patients.test_joining import said
from tests.clinic.patients.twice import join, second_record

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


@pytest.fixture
def other(cast: Cast) -> Patient:
    house.furnish(cast)
    return second_record(cast)


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
    address = re.search(r"https?://[^/]+(/p/\S+)", str(mail.outbox[0].body))
    assert address is not None
    phone = known(Client(), address[1])
    before = phone.get(reverse("before_visit"))
    join(cast, cast.patient, other, now=NOW + timedelta(minutes=5))
    after = phone.get(reverse("before_visit"))
    assert (before.status_code, after.status_code) == (200, 200)
    assert "10:00" in after.content.decode()
