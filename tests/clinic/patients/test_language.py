"""The desk learns at once, and on each page about the patient, that nothing goes out in the wanted language."""

import pytest
from django.test import Client
from django.urls import reverse

from clinic.patients.models import Patient
from tests.cast import Cast, sign_in
from tests.catalogues import Catalogues
from tests.clinic.look.markup import read
from tests.clinic.patients.people import TYPED, registered
from tests.support import nothing_written

ARABIC = "go out in English: no complete Arabic translation is installed."
GERMAN = "go out in English: no complete German translation is installed."


@pytest.fixture
def desk(cast: Cast) -> Client:
    return sign_in(cast.desk)


def words(client: Client, address: str) -> str:
    return read(client.get(address).content.decode()).one("main").words


def test_it_is_said_as_the_language_is_chosen(desk: Client) -> None:
    with nothing_written():
        said = desk.post(reverse("patient_look_alikes"), {"name": "Noor O'Hara", "language": "ar"})
    gap = next(each for each in read(said.content.decode()).all("div") if each.attributes.get("id") == "language-gap")
    assert gap.attributes["hx-swap-oob"] == "innerHTML"
    assert gap.words == f"Pages and messages for Noor O'Hara {ARABIC} Arrange an interpreter."
    nameless = desk.post(reverse("patient_look_alikes"), {"language": "ar"}).content.decode()
    assert f"Pages and messages {ARABIC}" in nameless
    for quiet in ("en", "xx", ""):
        page = desk.post(reverse("patient_look_alikes"), {"name": "Noor", "language": quiet})
        assert "translation is installed" not in page.content.decode()


def test_it_is_said_on_the_form_and_on_the_patients_page(desk: Client) -> None:
    refused = desk.post(reverse("patient_new"), TYPED | {"name": ""})
    assert f"Pages and messages {GERMAN}" in refused.content.decode()
    assert desk.post(reverse("patient_new"), TYPED).status_code == 302
    patient = Patient.objects.get()
    assert patient.language == "de"
    for address in ("patient", "patient_change"):
        page = words(desk, reverse(address, args=[patient.pk]))
        assert f"Pages and messages for Łukasz Müller {GERMAN} Arrange an interpreter." in page


def test_an_interpreter_who_is_asked_for_is_named(cast: Cast, desk: Client) -> None:
    patient = registered(
        cast, "Noor Haddad", language="ar", needs_interpreter=True, interpreter_language="Levantine Arabic"
    )
    page = words(desk, reverse("patient", args=[patient.pk]))
    assert f"{ARABIC} An interpreter is asked for: Levantine Arabic." in page


@pytest.mark.parametrize(("unfinished", "said"), [("", False), ("ar", True)])
def test_nothing_is_said_of_a_language_that_is_whole(
    cast: Cast, desk: Client, catalogues: Catalogues, unfinished: str, said: bool
) -> None:
    patient = registered(cast, "Noor Haddad", language="ar")
    catalogues.install("ar", unfinished=unfinished)
    assert (ARABIC in words(desk, reverse("patient", args=[patient.pk]))) == said


def test_the_name_disappears_with_the_others(cast: Cast, desk: Client) -> None:
    """One key hides all names on a staff screen."""
    patient = registered(cast, "Noor Haddad", language="ar")
    page = desk.get(reverse("patient", args=[patient.pk])).content.decode()
    assert '<bdi class="person" data-person="N. H.">Noor Haddad</bdi> go out in English' in page
