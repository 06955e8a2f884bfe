"""Registering: duplicates first, the age at once, and everything kept as it was typed."""

from datetime import UTC, date, datetime

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from clinic.accounts.rights import NotAllowed
from clinic.patients import hints
from clinic.patients.actions import BirthInTheFuture, Details, register_patient
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.catalogues import Catalogues
from tests.clinic.patients.people import TYPED, registered
from tests.support import nothing_written


@pytest.fixture
def desk(cast: Cast) -> Client:
    return sign_in(cast.desk)


def send(client: Client, **changes: str) -> Answer:
    return client.post(reverse("patient_new"), TYPED | changes)


def ask(client: Client, address: str = "", **typed: str) -> str:
    return client.post(address or reverse("patient_look_alikes"), typed).content.decode()


def test_it_works(cast: Cast, desk: Client) -> None:
    answer = send(desk, another_person="")
    patient = Patient.objects.get()
    assert answer.headers["Location"] == reverse("patient", kwargs={"pk": patient.pk})
    assert (patient.site, patient.name, patient.birth_on) == (cast.fernbrook, "Łukasz Müller", date(1988, 12, 3))
    assert patient.phone.as_e164 == "+442079460123"
    assert (patient.search_name, patient.search_digits) == ("lukasz muller luki", "442079460123")
    assert (patient.language, patient.language_name, patient.channel) == ("de", "German", "email")
    entry = TrailEntry.objects.get(verb="patients.registered")
    assert (entry.actor_name, entry.patient_id) == ("Dana Popescu", patient.pk)


def test_wrong_role(cast: Cast) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        assert send(client).status_code == 403
    with nothing_written(), pytest.raises(NotAllowed):
        register_patient(
            site=cast.fernbrook,
            details=Details(name="A", birth_on=date(1990, 1, 1)),
            user=cast.manager,
            actor=actor_of(cast.manager),
            now=NOW,
        )


def test_wrong_method(desk: Client) -> None:
    assert desk.put(reverse("patient_new")).status_code == 405
    assert desk.get(reverse("patient_look_alikes")).status_code == 405


def test_what_was_searched_for_is_the_name_already(desk: Client) -> None:
    page = desk.get(reverse("patient_new"), {"name": "Zoë\x00 Quill"})
    assert page.context["form"]["name"].value() == "Zoë Quill"


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"name": "Muller Lukasz"}, "same name and date of birth"),
        ({"name": "Lucasz Muller", "phone": "", "email": "", "channel": "letter"}, "same name and date of birth"),
        ({"name": "L. M.", "email": "", "channel": "text"}, "same telephone number"),
        ({"name": "L. M.", "phone": ""}, "same e-mail address"),
    ],
)
def test_a_likely_duplicate_is_shown_before_one_is_made(
    cast: Cast, desk: Client, changes: dict[str, str], sentence: str
) -> None:
    known = registered(
        cast, "Łukasz Müller", birth_on=date(1988, 12, 3), phone="+442079460123", email="luki@example.org"
    )
    with nothing_written():
        page = send(desk, **changes)
    assert page.status_code == 422
    assert [(row.pk, str(why)) for row, why in page.context["duplicates"]] == [
        (known.pk, {"n": "name_and_birth", "t": "phone", "e": "email"}[sentence.split()[1][0]])
    ]
    assert sentence in page.content.decode()
    # The list on top leads to the box that would register them all the same.
    assert list(page.context["form"].errors) == ["another_person"]
    assert '<a href="#id_another_person">' in page.content.decode()
    assert page.context["form"]["name"].value() == changes["name"]
    # Somebody else after all: said once, and it is done.
    assert send(desk, **changes, another_person="on").status_code == 302
    assert Patient.objects.count() == 2


def test_two_presses_register_once(desk: Client) -> None:
    assert send(desk).status_code == 302
    with nothing_written():
        assert send(desk).status_code == 422


def test_a_duplicate_elsewhere_is_not_given_away(cast: Cast, desk: Client) -> None:
    typed = {"name": "Søren Óskarsson", "birth_on": "31 1 1971"}
    assert cast.stranger.name == typed["name"]
    assert send(desk, **typed).status_code == 302


def test_duplicates_show_while_somebody_types(cast: Cast, desk: Client) -> None:
    assert cast.patient.name in ask(desk, name="Amara Nwosu", birth_on="17 5 1990")
    assert cast.patient.name in ask(desk, phone="020 7946 0101")
    assert cast.patient.name not in ask(desk, name="Amara", birth_on="17 5 19")
    own = f"{reverse('patient_look_alikes')}?known={cast.patient.pk}"
    assert cast.patient.name not in ask(desk, own, name="Amara Nwosu", birth_on="17 5 1990")
    for known in ("x", "9" * 40, "٣", ""):
        assert ask(desk, f"{reverse('patient_look_alikes')}?known={known}", name="Amara") == ask(desk, name="Amara")


SEVENTEEN = "Whitening not before 12 Aug 2026, the 18th birthday."


@time_machine.travel(NOW, tick=False)
def test_under_eighteen_is_said_at_once(desk: Client) -> None:
    assert SEVENTEEN in ask(desk, birth_on="12 8 2008")
    assert "Whitening not before" not in ask(desk, birth_on="3 3 2008")  # eighteen today
    assert "Whitening not before 4 Mar 2026" in ask(desk, birth_on="4 3 2008")
    # Still there when the form comes back for another reason, and on the patient's page.
    assert SEVENTEEN in send(desk, birth_on="12 8 2008", name="").content.decode()
    page = desk.post(reverse("patient_new"), TYPED | {"birth_on": "12 8 2008"}, follow=True)
    assert SEVENTEEN in page.content.decode()


@time_machine.travel(NOW, tick=False)
def test_the_date_is_in_the_readers_language(desk: Client, catalogues: Catalogues) -> None:
    catalogues.install("de")
    desk.post(reverse("language"), {"language": "de"})
    assert "12. Dez 2027" in ask(desk, birth_on="12 12 2009")


def test_whitening_says_it(cast: Cast) -> None:
    """The register itself knows nothing of whitening: another part registers the sentence."""
    said = hints.birth_hints(birth_on=date(2009, 2, 28), today=date(2026, 3, 3))
    assert [str(one)[:34] for one in said] == ["Whitening not before 28 Feb 2027, "]
    assert hints.birth_hints(birth_on=date(1990, 1, 1), today=date(2026, 3, 3)) == []


def test_born_today_is_the_latest(cast: Cast) -> None:
    """By the wall clock of the site: half past eleven at night in UTC is the next day in British summer time."""
    late = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
    given = {"site": cast.fernbrook, "user": cast.desk, "actor": actor_of(cast.desk), "now": late}
    register_patient(details=Details(name="Newborn", birth_on=date(2026, 7, 2)), **given)  # type: ignore[arg-type]
    with nothing_written(), pytest.raises(BirthInTheFuture):
        register_patient(details=Details(name="Unborn", birth_on=date(2026, 7, 3)), **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(("gateway", "offered"), [("", False), ("json://localhost/{to}", True)])
def test_texts_are_offered_where_they_can_be_sent(
    desk: Client, settings: Settings, gateway: str, offered: bool
) -> None:
    settings.SMS_URL = gateway
    assert ('<option value="text"' in desk.get(reverse("patient_new")).content.decode()) is offered


def test_a_choice_of_texts_is_kept_when_they_are_off(cast: Cast, desk: Client) -> None:
    patient = registered(cast, "Ada Example", channel="text", phone="+442079460123")
    page = desk.get(reverse("patient_change", kwargs={"pk": patient.pk})).content.decode()
    assert '<option value="text" selected' in page


def test_the_form_speaks_with_the_voice_of_the_desk(desk: Client) -> None:
    """The same question on the patient's own page begins with "Reach me by"."""
    form = desk.get(reverse("patient_new")).content.decode()
    assert "Reach the patient by" in form
    assert "Reach me by" not in form
