"""The six digits that signing, and reading answers or documents, ask for."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.test import Client

from clinic.messages import visits
from clinic.messages.models import LinkVisit
from clinic.messages.tasks import tidy
from clinic.patients.models import ContactChoice, Patient, Purpose
from tests.cast import NOW, Cast
from tests.clinic.messages.entering import known
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")


def code_in_the_mail() -> str:
    found = re.search(r"\b\d{6}\b", str(mail.outbox[-1].body))
    assert found is not None
    return found[0]


def test_the_code_goes_to_the_known_channel_and_opens(address: str, phone: Client) -> None:
    visitor = known(phone, address)
    assert "a…@example.org" in visitor.get("/p/code/").content.decode()
    visitor.post("/p/code/", {"step": "send"})
    assert mail.outbox[-1].subject == "Your code for Fernbrook Dental Rooms"
    code = code_in_the_mail()
    assert code not in LinkVisit.objects.get().code_hash
    onward = visitor.post("/p/code/", {"step": "check", "code": f"{code[:3]} {code[3:]}"})
    assert onward.status_code == 303
    visit = LinkVisit.objects.get()
    assert (visit.code_passed_at, visit.code_hash) == (NOW, "")


def test_the_code_comes_at_night_and_after_an_opt_out(
    address: str, phone: Client, cast: Cast, at_now: time_machine.Traveller
) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(channel="phone")
    ContactChoice.objects.create(
        patient=cast.patient, purpose=Purpose.SAFETY, allowed=False, wording="No", chosen_at=NOW, chosen_by="Amara"
    )
    at_now.move_to(NOW.replace(hour=23))
    known(phone, address).post("/p/code/", {"step": "send"})
    assert len(mail.outbox) == 2


def test_five_wrong_codes_kill_the_code(address: str, phone: Client) -> None:
    visitor = known(phone, address)
    visitor.post("/p/code/", {"step": "send"})
    right = code_in_the_mail()
    wrong = "000000" if right != "000000" else "111111"
    for _ in range(5):
        assert visitor.post("/p/code/", {"step": "check", "code": wrong}).status_code == 422
    assert visitor.post("/p/code/", {"step": "check", "code": right}).status_code == 422
    assert LinkVisit.objects.get().code_passed_at is None


def test_a_code_lives_ten_minutes(address: str, phone: Client, at_now: time_machine.Traveller) -> None:
    visitor = known(phone, address)
    visitor.post("/p/code/", {"step": "send"})
    at_now.move_to(NOW + timedelta(minutes=10))
    assert visitor.post("/p/code/", {"step": "check", "code": code_in_the_mail()}).status_code == 422


def test_a_code_is_for_the_browser_that_asked(address: str, phone: Client) -> None:
    known(phone, address).post("/p/code/", {"step": "send"})
    code = code_in_the_mail()
    other = known(Client(), address)
    other.post("/p/code/", {"step": "send"})
    if code_in_the_mail() != code:
        assert other.post("/p/code/", {"step": "check", "code": code}).status_code == 422


def test_a_code_works_once(address: str, phone: Client) -> None:
    visitor = known(phone, address)
    visitor.post("/p/code/", {"step": "send"})
    code = code_in_the_mail()
    visitor.post("/p/code/", {"step": "check", "code": code})
    assert visitor.post("/p/code/", {"step": "check", "code": code}).status_code == 422


def test_codes_are_limited(address: str, phone: Client) -> None:
    visitor = known(phone, address)
    for _ in range(visits.CODES_A_VISIT):
        visitor.post("/p/code/", {"step": "send"})
    with nothing_written():
        page = visitor.post("/p/code/", {"step": "send"})
    assert page.status_code == 422
    assert "No more codes" in page.content.decode()


@pytest.mark.parametrize("typed", ["", "12345", "1234567", "abcdef", "12\x003456" * 3])
def test_what_is_no_code_counts_no_try(address: str, phone: Client, typed: str) -> None:
    visitor = known(phone, address)
    visitor.post("/p/code/", {"step": "send"})
    with nothing_written():
        assert visitor.post("/p/code/", {"step": "check", "code": typed}).status_code == 422


def test_an_old_visit_is_forgotten_and_one_that_counts_is_not(
    address: str, phone: Client, at_now: time_machine.Traveller
) -> None:
    known(phone, address)
    at_now.move_to(NOW + visits.LASTS + visits.KEPT_AFTER - timedelta(seconds=1))
    tidy()
    assert LinkVisit.objects.count() == 1
    at_now.shift(timedelta(seconds=1))
    tidy()
    assert LinkVisit.objects.count() == 0
