"""Message preferences: each purpose a choice of its own, with proof."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from clinic.patients.actions import allowed_purposes
from clinic.patients.models import ContactChoice, Patient, Purpose
from tests.cast import Cast
from tests.catalogues import PREFERENCES, WORDS, Catalogues
from tests.clinic.messages.entering import known
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")


def test_preferences_keep_proof_of_each_change(address: str, phone: Client, cast: Cast) -> None:
    visitor = known(phone, address)
    page = visitor.get("/p/preferences/").content.decode()
    assert "about the colour of my teeth" in page
    assert "Reach me by" in page
    visitor.post("/p/preferences/", {"channel": "text", "appointment": "on", "safety": "on", "colour": "on"})
    assert allowed_purposes(cast.patient) == {
        Purpose.APPOINTMENT: True,
        Purpose.SAFETY: True,
        Purpose.RECALL: False,
        Purpose.COLOUR: True,
    }
    proofs = ContactChoice.objects.order_by("purpose").values_list("purpose", "wording", "chosen_by")
    assert list(proofs) == [
        ("colour", "Remind me in about a year about the colour of my teeth.", "Amara Nwosu"),
        ("recall", "Tell me when my next check is due.", "Amara Nwosu"),
    ]
    assert Patient.objects.get(pk=cast.patient.pk).channel == "text"


@pytest.mark.parametrize(
    ("channel", "words"),
    [("text", "no telephone number"), ("phone", "no telephone number"), ("letter", "no postal address")],
)
def test_a_way_that_leads_nowhere_is_not_chosen(
    address: str, phone: Client, cast: Cast, channel: str, words: str
) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(phone="", address="")
    visitor = known(phone, address)
    with nothing_written():
        refused = visitor.post("/p/preferences/", {"channel": channel, "appointment": "on"})
    assert refused.status_code == 422
    assert f"We have {words} of yours." in refused.content.decode()
    # Who has chosen it before may keep it: their other choices are not held up by it.
    Patient.objects.filter(pk=cast.patient.pk).update(channel=channel)
    assert visitor.post("/p/preferences/", {"channel": channel, "safety": "on"}).status_code == 303


@pytest.mark.parametrize("installed", [False, True], ids=["no catalogue", "a catalogue with a gap"])
def test_english_from_left_to_right_until_the_language_is_whole(
    address: str, phone: Client, cast: Cast, catalogues: Catalogues, installed: bool
) -> None:
    if installed:
        catalogues.install("ar", unfinished="ar")
    Patient.objects.filter(pk=cast.patient.pk).update(language="ar")
    visitor = known(phone, address)
    for path in (address, "/p/preferences/"):
        answer = visitor.get(path, headers={"Accept-Language": "ar"})
        assert answer.headers["Content-Language"] == "en"
        assert '<html lang="en" dir="ltr">' in answer.content.decode()
    closed = phone.get("/p/l/nobody-knows-this-one/", headers={"Accept-Language": "ar"}).content.decode()
    assert '<html lang="en" dir="ltr">' in closed
    assert Patient.objects.get(pk=cast.patient.pk).language == "ar"


def test_the_reminder_about_colour_is_never_ticked_beforehand(address: str, phone: Client) -> None:
    page = known(phone, address).get("/p/preferences/").content.decode()
    [box] = re.findall(r'<input[^>]*name="colour"[^>]*>', page)
    assert "checked" not in box


def test_pages_speak_the_patients_language(address: str, phone: Client, cast: Cast, catalogues: Catalogues) -> None:
    catalogues.install("ar")
    Patient.objects.filter(pk=cast.patient.pk).update(language="ar")
    answer = known(phone, address).get("/p/preferences/")
    assert answer.headers["Content-Language"] == "ar"
    page = answer.content.decode()
    assert '<html lang="ar" dir="rtl">' in page
    assert f"<h1>{WORDS[PREFERENCES]['ar']}</h1>" in page
    assert 'lang="en"' in Client().get(reverse("account_login")).content.decode()
