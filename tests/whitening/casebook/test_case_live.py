"""The open page of a case follows what is recorded elsewhere: 304 while it stands, and that is no reading of it."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.patients.actions import note_death
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient
from tests.clinic.patients.twice import join, second_record
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from whitening.consent.actions import withdraw

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def course(cast: Cast) -> Lived:
    return lived.agreed(cast)


def ask(client: Client, course: Lived, tag: str) -> Answer:
    where = reverse("case", args=[course.case.pk])
    return client.get(where, headers={"x-background": "1", "if-none-match": f'"{tag}"'})


def test_it_stands_until_something_is_recorded_about_the_patient(cast: Cast, course: Lived) -> None:
    client = sign_in(cast.clinician)
    tag = client.get(reverse("case", args=[course.case.pk])).context["tag"]
    note_death(patient=another_patient(cast), actor=actor_of(cast.desk), now=NOW)
    with nothing_written(), CaptureQueriesContext(connection) as asked:
        assert ask(client, course, tag).status_code == 304
    # Who asks, what they may, their sites, the case, and the two questions.
    assert len(asked) <= 9
    withdraw(case=course.case, words="", actor=actor_of(cast.clinician), now=NOW)
    later = ask(client, course, tag)
    assert "Consent was withdrawn" in later.content.decode()
    assert ask(client, course, later.context["tag"]).status_code == 304


def test_what_is_recorded_of_a_joined_record_counts_too(cast: Cast, course: Lived) -> None:
    client, alias = sign_in(cast.clinician), second_record(cast)
    join(cast, course.case.patient, alias)
    tag = client.get(reverse("case", args=[course.case.pk])).context["tag"]
    note_death(patient=alias, actor=actor_of(cast.desk), now=NOW)
    assert ask(client, course, tag).status_code == 200


def test_a_refused_form_does_not_follow(cast: Cast, course: Lived) -> None:
    """It stands at an address that only takes a form: asked for again, the page would seem to be cut off."""
    page = sign_in(cast.clinician).post(reverse("case_put_off", args=[course.case.pk]), {})
    assert page.status_code == 422
    assert "data-live-tag" not in page.content.decode()


def test_other_site(cast: Cast, course: Lived) -> None:
    assert ask(sign_in(cast.elsewhere_desk), course, "anything").status_code == 404
