"""The pages on which two records are found, compared and joined: what they say, and what a stale or wrong form does."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from clinic.patients.erasing import destroy_keys_of
from clinic.patients.models import Patient
from clinic.trail import clock, sealing
from clinic.trail.erasure import Unreadable, reveal
from clinic.trail.models import TrailEntry
from clinic.trail.verify import verify
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.clinic.diary import house
from tests.clinic.patients.people import registered
from tests.clinic.patients.test_joining import again
from tests.clinic.patients.twice import BORN, WHY, join, second_record
from tests.support import nothing_written

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def compare(patient: Patient, other: Patient) -> str:
    return reverse("patient_compare", args=[patient.pk, other.pk])


def send(cast: Cast, patient: Patient, other: Patient, *, client: Client | None = None, **typed: str) -> Answer:
    given = {"keep": str(patient.pk), "reason": WHY, "versions": f"{patient.version} {other.version}"}
    given |= {"email": str(other.pk)}
    return (client or sign_in(cast.manager)).post(reverse("patient_join", args=[patient.pk, other.pk]), given | typed)


def test_it_works(cast: Cast) -> None:
    other = second_record(cast)
    answer = send(cast, cast.patient, other)
    assert (answer.status_code, answer.headers["Location"]) == (302, reverse("patient", args=[cast.patient.pk]))
    assert again(other).merged_into_id == cast.patient.pk
    assert again(cast.patient).email == "a.nwosu@example.org"


def test_the_other_one_may_be_kept(cast: Cast) -> None:
    other = second_record(cast)
    assert send(cast, cast.patient, other, keep=str(other.pk)).status_code == 302
    assert again(cast.patient).merged_into_id == other.pk
    kept = again(other)
    # What only the other one had comes along.
    assert (kept.email, kept.phone.as_e164) == ("a.nwosu@example.org", "+442079460101")


def test_found_and_compared(cast: Cast) -> None:
    house.furnish(cast)
    other, desk = second_record(cast), sign_in(cast.desk)
    house.book(cast, house.at(10), patient=other)
    page = desk.get(reverse("patient", args=[cast.patient.pk])).content.decode()
    assert compare(cast.patient, other) in page
    assert compare(cast.patient, other) in desk.get(reverse("patient_same", args=[cast.patient.pk])).content.decode()
    side_by_side = desk.get(compare(cast.patient, other)).content.decode()
    assert "amara@example.org" in side_by_side
    assert "Comes: Consultation, Wed 4 Mar 2026, 10:00" in side_by_side


def test_what_tells_who_they_are_is_hidden_with_the_names(cast: Cast) -> None:
    page = sign_in(cast.desk).get(compare(cast.patient, second_record(cast))).content.decode()
    for words in ("amara@example.org", "+44 20 7946 0101", "17 May 1990"):
        assert words in page
        assert words not in page.replace(f'<bdi data-person="•••">{words}', "")


def test_only_others_of_the_site_are_offered(cast: Cast) -> None:
    stranger = cast.stranger
    page = sign_in(cast.desk).get(reverse("patient_same", args=[cast.patient.pk]), {"q": "Søren"}).content.decode()
    assert stranger.name not in page
    assert sign_in(cast.desk).get(compare(cast.patient, stranger)).status_code == 404
    assert sign_in(cast.desk).get(compare(cast.patient, cast.patient)).status_code == 404


class TestRefused:
    @pytest.mark.parametrize(
        ("typed", "status", "sentence"),
        [
            ({"reason": ""}, 422, "Say how you know that this is one person."),
            ({"keep": "77"}, 422, "Which record is kept?"),
            ({"versions": "7 1"}, 409, "Somebody else changed this patient"),
            ({"versions": "no number"}, 409, "Somebody else changed this patient"),
            ({"versions": ""}, 409, "Somebody else changed this patient"),
        ],
    )
    def test_what_was_sent_is_wrong(self, cast: Cast, typed: dict[str, str], status: int, sentence: str) -> None:
        other = second_record(cast)
        client = sign_in(cast.manager)
        assert cast.patient.pk
        with nothing_written():
            answer = send(cast, cast.patient, other, client=client, **typed)
        assert answer.status_code == status
        page = answer.content.decode()
        assert sentence in page
        # Listed once, on top of the page.
        assert page.count("Nothing was saved yet") == 1

    def test_the_page_that_says_so_can_be_sent(self, cast: Cast) -> None:
        """It shows both as they stand now, and the choices as they were made."""
        other, client = second_record(cast), sign_in(cast.manager)
        seen = f"{cast.patient.version} {other.version}"
        Patient.objects.filter(pk=other.pk).update(version=2, allergies="latex")
        refused = send(cast, cast.patient, other, client=client, versions=seen)
        page = refused.content.decode()
        assert refused.status_code == 409
        assert "latex" in page
        shown = re.search(r'<input type="hidden" name="versions" value="([^"]*)"', page)
        assert shown is not None
        assert WHY in page
        assert send(cast, cast.patient, other, client=client, versions=shown[1]).status_code == 302
        assert again(cast.patient).allergies == "latex"

    @pytest.mark.parametrize("keep_other", [False, True])
    def test_pressed_twice(self, cast: Cast, keep_other: bool) -> None:
        other, client = second_record(cast), sign_in(cast.manager)
        kept = other if keep_other else cast.patient
        assert send(cast, cast.patient, other, client=client, keep=str(kept.pk)).status_code == 302
        client.get(reverse("patient", args=[kept.pk]))
        with nothing_written():
            answer = send(cast, cast.patient, other, client=client, keep=str(kept.pk))
        assert (answer.status_code, answer.headers["Location"]) == (302, reverse("patient", args=[kept.pk]))
        page = client.get(reverse("patient", args=[kept.pk])).content.decode()
        assert "joined with another one already" in page

    def test_dates_of_birth_differ(self, cast: Cast) -> None:
        other = second_record(cast, birth_on=BORN.replace(day=7))
        client = sign_in(cast.manager)
        assert cast.patient.pk
        with nothing_written():
            answer = send(cast, cast.patient, other, client=client)
        assert answer.status_code == 422
        assert "Say how you know which date of birth is right." in answer.content.decode()
        assert send(cast, cast.patient, other, birth_word="From the passport.").status_code == 302


class TestTheAlias:
    def test_its_page_leads_on(self, cast: Cast) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        page = sign_in(cast.desk).get(reverse("patient", args=[other.pk])).content.decode()
        assert reverse("patient", args=[cast.patient.pk]) in page
        assert WHY in page
        assert "Mara O’Neill" in page
        assert "Take them apart" not in page

    @pytest.mark.parametrize("name", ["patient_change", "patient_same", "find_time", "walk_in", "case_new"])
    def test_nothing_is_begun_with_it(self, cast: Cast, name: str) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        assert sign_in(cast.desk).get(reverse(name, args=[other.pk])).status_code == 404

    def test_apart_again(self, cast: Cast) -> None:
        other, manager = second_record(cast), sign_in(cast.manager)
        join(cast, cast.patient, other)
        assert "Take them apart" in manager.get(reverse("patient", args=[other.pk])).content.decode()
        assert manager.post(reverse("patient_part", args=[other.pk])).status_code == 302
        assert again(other).merged_into is None
        again_page = manager.post(reverse("patient_part", args=[other.pk]), follow=True).content.decode()
        assert "This record is not joined with another one." in again_page

    def test_another_site_does_not_see_it(self, cast: Cast) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        assert sign_in(cast.elsewhere).get(reverse("patient", args=[other.pk])).status_code == 404


def test_erased_with_all_its_records(cast: Cast, settings: Settings, tmp_path: Path) -> None:
    """Each record has a key of its own; the trail verifies all the same."""
    other, bystander = second_record(cast), registered(cast, "Somebody Else")
    join(cast, cast.patient, other)
    assert destroy_keys_of(again(other)) == 2
    entries = TrailEntry.objects.filter(patient_id__in=[cast.patient.pk, other.pk])
    assert {reveal(entry) for entry in entries} == {Unreadable.ERASED}
    assert reveal(TrailEntry.objects.get(patient_id=bystander.pk)) is not Unreadable.ERASED
    # The heads of other tests, whose entries were rolled back, lie elsewhere.
    settings.TRAIL_ANCHOR_DIR = tmp_path
    sealing.anchor_tick(clock.real_now())
    assert verify(anchor_dir=tmp_path).holds
    page = sign_in(cast.desk).get(reverse("patient", args=[other.pk])).content.decode()
    assert reverse("patient", args=[cast.patient.pk]) in page
    assert WHY not in page
