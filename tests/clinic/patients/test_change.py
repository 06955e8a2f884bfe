"""Changing details: once seen, once saved; a stale form shows both versions and keeps what was typed."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Role
from clinic.accounts.rights import NotAllowed
from clinic.patients.actions import ChangedMeanwhile, change_patient, details_of
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in, works_also
from tests.clinic.patients.people import TYPED, registered
from tests.support import nothing_written


def send(client: Client, patient: Patient, *, seen: int = 1, **changes: str) -> Answer:
    typed = TYPED | {"seen_version": str(seen)} | changes
    return client.post(reverse("patient_change", kwargs={"pk": patient.pk}), typed)


def test_it_works(cast: Cast) -> None:
    assert send(sign_in(cast.desk), cast.patient).status_code == 302
    held = Patient.objects.get(pk=cast.patient.pk)
    assert (held.name, held.birth_on, held.version) == ("Łukasz Müller", date(1988, 12, 3), 2)
    assert held.search_name == "lukasz muller luki"
    entry = TrailEntry.objects.get(verb="patients.changed")
    assert entry.fields.split() == sorted(
        ["address", "allergies", "birth_on", "email", "language", "name", "phone", "preferred_name"]
    )


def test_wrong_role(cast: Cast) -> None:
    patient = cast.patient
    client = sign_in(cast.manager)
    with nothing_written():
        assert send(client, patient).status_code == 403


def test_only_who_may_change_is_shown_the_way(cast: Cast) -> None:
    patient, manager_there = cast.patient, works_also(cast.desk, cast.alderton, Role.MANAGER)
    page, change = reverse("patient", args=[patient.pk]), reverse("patient_change", args=[patient.pk])
    assert change in sign_in(manager_there, screen=cast.alderton).get(page).content.decode()
    desk_there = works_also(cast.manager, cast.alderton, Role.DESK)
    assert change not in sign_in(desk_there, screen=cast.alderton).get(page).content.decode()


def test_other_site(cast: Cast) -> None:
    stranger = cast.stranger
    client = sign_in(cast.desk)
    with nothing_written():
        assert send(client, stranger).status_code == 404
    details = details_of(stranger)
    with nothing_written(), pytest.raises(NotAllowed):
        change_patient(
            patient=stranger, details=details, seen_version=1, user=cast.desk, actor=actor_of(cast.desk), now=NOW
        )


def test_wrong_method(cast: Cast) -> None:
    assert sign_in(cast.desk).delete(reverse("patient_change", kwargs={"pk": cast.patient.pk})).status_code == 405


def test_the_form_shows_what_is_held(cast: Cast) -> None:
    form = sign_in(cast.desk).get(reverse("patient_change", kwargs={"pk": cast.patient.pk})).context["form"]
    assert (form["name"].value(), form["seen_version"].value()) == ("Amara Nwosu", 1)
    assert 'value="17 5 1990"' in str(form["birth_on"])


def test_nothing_changed_writes_nothing(cast: Cast) -> None:
    client = sign_in(cast.desk)
    send(client, cast.patient)
    with nothing_written():
        assert send(client, cast.patient, seen=2).status_code == 302


def test_a_stale_form_shows_both_versions(cast: Cast) -> None:
    patient = cast.patient
    client = sign_in(cast.desk)
    send(client, patient, name="Amara Bell", phone="020 7946 0111", channel="phone")
    with nothing_written():
        page = send(client, patient, name="Amara Rose", channel="letter")
    assert page.status_code == 409
    # Label, what the other saved, what was typed: as words, not as codes.
    assert {row[0]: row[1:] for row in page.context["theirs"]} == {
        "Full name": ("Amara Bell", "Amara Rose"),
        "Telephone": ("+44 20 7946 0111", "+44 20 7946 0123"),
        "Reach the patient by": ("telephone call", "letter"),
    }
    form = page.context["form"]
    assert (form["name"].value(), form["seen_version"].value()) == ("Amara Rose", "2")
    # Having seen both, the person saves again.
    assert send(client, patient, seen=2, name="Amara Rose", channel="letter").status_code == 302
    assert Patient.objects.get(pk=patient.pk).name == "Amara Rose"


def test_a_refused_change_leaves_the_heading_alone(cast: Cast) -> None:
    page = send(sign_in(cast.desk), cast.patient, name="Somebody Else", birth_on="31 2 1990")
    assert page.status_code == 422
    assert page.context["patient"].name == "Amara Nwosu"


def test_a_new_address_has_not_bounced(cast: Cast) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(email_bounced_at=NOW)
    send(sign_in(cast.desk), cast.patient, email=cast.patient.email)
    assert Patient.objects.get(pk=cast.patient.pk).email_bounced_at == NOW
    send(sign_in(cast.desk), cast.patient, seen=2, email="new@example.org")
    assert Patient.objects.get(pk=cast.patient.pk).email_bounced_at is None


def test_no_duplicate_of_oneself(cast: Cast) -> None:
    page = send(sign_in(cast.desk), cast.patient, name="Amara Nwosu", birth_on="17 5 1990", email="wrong")
    assert page.status_code == 422
    assert page.context["duplicates"] == []


def test_the_action_refuses_a_stale_version(cast: Cast) -> None:
    details = details_of(cast.patient)
    with nothing_written(), pytest.raises(ChangedMeanwhile):
        change_patient(
            patient=cast.patient, details=details, seen_version=7, user=cast.desk, actor=actor_of(cast.desk), now=NOW
        )


def test_a_number_kept_free_for_stories_can_be_saved_again(cast: Cast) -> None:
    client = sign_in(cast.desk)
    patient = registered(cast, "Łukasz Müller", phone="+447700900123", channel="phone")
    address = reverse("patient_change", args=[patient.pk])
    shown = client.get(address).context["form"]["phone"].value()
    typed = TYPED | {"phone": str(shown), "channel": "text", "seen_version": str(patient.version)}
    assert client.post(address, typed).status_code == 302
    patient.refresh_from_db()
    assert (patient.phone.as_e164, patient.search_digits) == ("+447700900123", "447700900123")
    assert "+44 7700 900123" in client.get(reverse("patient", args=[patient.pk])).content.decode()
