"""The register and one patient's page."""

import pytest
from django.urls import reverse

from clinic.patients.actions import allowed_purposes, choose_contact
from clinic.patients.models import Purpose
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.patients.people import registered


def test_it_works(cast: Cast) -> None:
    page = sign_in(cast.desk).get(reverse("patient", kwargs={"pk": cast.patient.pk}))
    text = page.content.decode()
    assert "Amara Nwosu" in text
    assert "English" in text
    # Never in what a browser keeps in its history.
    assert "Amara" not in text.partition("</title>")[0]


def test_wrong_role(cast: Cast) -> None:
    """A manager reads; there is no role without the register."""
    assert sign_in(cast.manager).get(reverse("patient", kwargs={"pk": cast.patient.pk})).status_code == 200


def test_other_site(cast: Cast) -> None:
    assert sign_in(cast.desk).get(reverse("patient", kwargs={"pk": cast.stranger.pk})).status_code == 404


def test_wrong_method(cast: Cast) -> None:
    assert sign_in(cast.desk).post(reverse("patients")).status_code == 405


def test_the_latest_come_first_until_somebody_types(cast: Cast) -> None:
    client = sign_in(cast.desk)
    first, second = cast.patient, registered(cast, "Zoë Quill")
    assert client.get(reverse("patients")).context["patients"] == [second, first]
    assert client.get(reverse("patients"), {"q": "amara"}).context["patients"] == [first]


def test_typing_fetches_only_the_list(cast: Cast) -> None:
    assert cast.patient.site == cast.fernbrook
    answer = sign_in(cast.desk).get(reverse("patients"), {"q": "amara"}, headers={"HX-Request": "true"})
    text = answer.content.decode()
    assert "Amara Nwosu" in text
    assert "<html" not in text


@pytest.mark.parametrize("asked", ["\x00", "'; DROP TABLE x; --", "x" * 5000, "😀", "\u202e"])
def test_whatever_is_typed_finds_nobody_and_breaks_nothing(cast: Cast, asked: str) -> None:
    assert cast.patient.pk
    page = sign_in(cast.desk).get(reverse("patients"), {"q": asked})
    assert page.status_code == 200


def test_nobody_found_offers_to_register_that_name(cast: Cast) -> None:
    page = sign_in(cast.desk).get(reverse("patients"), {"q": "Zoë Quill"})
    assert f"{reverse('patient_new')}?name=Zo%C3%AB%20Quill" in page.content.decode()


def test_the_newest_choice_holds_and_the_older_stays_as_proof(cast: Cast) -> None:
    patient, actor = cast.patient, actor_of(cast.desk)
    assert allowed_purposes(patient) == {
        Purpose.APPOINTMENT: True,
        Purpose.SAFETY: True,
        Purpose.RECALL: True,
        Purpose.COLOUR: False,
    }
    words = {Purpose.COLOUR: "Remind me in about a year about the colour of my teeth."}
    for allowed in (True, False):
        choose_contact(patient=patient, choices={Purpose.COLOUR: allowed}, wordings=words, actor=actor, now=NOW)
    assert not allowed_purposes(patient)[Purpose.COLOUR]
    assert list(patient.contact_choices.values_list("allowed", "chosen_by")) == [
        (False, "Dana Popescu"),
        (True, "Dana Popescu"),
    ]
