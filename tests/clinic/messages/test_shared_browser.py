"""Two people with one telephone: what was shown to one of them is never taken as said by the other."""

import re
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client

from clinic.messages import links
from clinic.messages.models import LinkVisit, PrivateLink
from clinic.patients.actions import Details, register_patient
from clinic.patients.models import ContactChoice, Patient
from tests.answer import Answer
from tests.cast import NOW, Cast
from tests.clinic.messages.entering import BIRTH, known, opened
from tests.clinic.messages.writing import PAGE
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now", "wishes")

TEMPLATES = Path(settings.BASE_DIR) / "templates"
# Forms that are there before anybody's link was exchanged; the secret in their address says whose they are.
BEFORE_ANYBODY_IS_KNOWN = {"open.html", "closed.html", "end.html", "verify.html"}


@pytest.fixture
def daughter(cast: Cast) -> Patient:
    details = Details(name="Ngozi Nwosu", birth_on=date(2001, 6, 5), email="amara@example.org")
    return register_patient(site=cast.fernbrook, details=details, user=cast.desk, actor=cast.desk.actor, now=NOW)


@pytest.fixture
def others(cast: Cast, daughter: Patient) -> str:
    """The path of a link to the daughter's page."""
    return link_to(daughter, cast)


def link_to(patient: Patient, cast: Cast) -> str:
    with transaction.atomic():
        _link, url = links.issue(purpose=PAGE, subject_id=patient.pk, patient=patient, site=cast.fernbrook, now=NOW)
    return "/p/l/" + url.split("/p/l/")[1]


def whose(page: Answer) -> str:
    found = re.search(r'name="whose" value="(\w+)"', page.content.decode())
    assert found is not None
    return found[1]


def test_a_form_of_one_is_not_kept_for_the_other(
    cast: Cast, address: str, others: str, phone: Client, daughter: Patient
) -> None:
    known(phone, address)
    drawn = whose(phone.get("/p/preferences/"))
    opened(phone, others).post("/p/who/", {"birth_on": "5 6 2001"})
    with nothing_written():
        refused = phone.post("/p/preferences/", {"channel": "email", "whose": drawn})
    assert refused.status_code == 409
    assert "another page was opened here since" in refused.content.decode()
    assert not ContactChoice.objects.exists()
    mine = phone.get("/p/preferences/")
    assert phone.post("/p/preferences/", {"channel": "email", "whose": whose(mine)}).status_code == 303
    assert {row.patient for row in ContactChoice.objects.all()} == {daughter}


def test_a_birth_date_for_one_page_counts_no_try_for_the_other(address: str, others: str, phone: Client) -> None:
    drawn = whose(opened(phone, address).get("/p/who/"))
    opened(phone, others)
    with nothing_written():
        assert phone.post("/p/who/", {"birth_on": BIRTH, "whose": drawn}).status_code == 409
    assert set(PrivateLink.objects.values_list("birth_tries", flat=True)) == {0}
    assert not LinkVisit.objects.exclude(known_at=None).exists()


def test_a_form_that_was_altered(address: str, phone: Client) -> None:
    known(phone, address)
    for value in ("", "é", "0" * 32, "\x00"):
        with nothing_written():
            assert phone.post("/p/preferences/", {"channel": "email", "whose": value}).status_code == 409


def test_the_same_page_opened_again_spoils_nothing(cast: Cast, address: str, phone: Client) -> None:
    known(phone, address)
    drawn = whose(phone.get("/p/preferences/"))
    known(phone, address)
    assert phone.post("/p/preferences/", {"channel": "email", "whose": drawn}).status_code == 303


def test_the_page_says_whose_it_is_once_they_are_known(address: str, phone: Client) -> None:
    assert "Nwosu" not in opened(phone, address).get("/p/who/").content.decode()
    assert "For Amara Nwosu" in known(phone, address).get("/p/preferences/").content.decode()


def test_every_form_of_these_pages_says_whose_it_is() -> None:
    pages = [path for path in TEMPLATES.rglob("*.html") if '{% extends "base_patient.html" %}' in path.read_text()]
    forms = [path for path in pages if "csrf_token" in path.read_text() and path.name not in BEFORE_ANYBODY_IS_KNOWN]
    assert len(forms) > 10
    for path in forms:
        words = path.read_text()
        assert words.count("{% csrf_token %}") == words.count("{% csrf_token %}{% whose_page %}"), path.name
