"""Somebody has died: nothing is sent, nobody calls, and the visits of the course are taken out of the diary."""

from datetime import timedelta

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from clinic.diary.models import Status
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from whitening.casebook.actions.ending import end_case
from whitening.cases.models import CloseReason

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def case(cast: Cast) -> Lived:
    return lived.agreed(cast)


@pytest.fixture
def desk(cast: Cast) -> Client:
    return sign_in(cast.desk)


def end(case: Lived, reason: CloseReason) -> None:
    person = case.cast.clinician
    end_case(case=case.case, reason=reason, words="", user=person, actor=actor_of(person), now=NOW)


@pytest.mark.parametrize(("reason", "letters"), [(CloseReason.DIED, 0), (CloseReason.PATIENT_ENDED, 1)])
def test_closing_the_case_writes_to_nobody_who_died(case: Lived, reason: CloseReason, letters: int) -> None:
    sweep(now=NOW)
    mail.outbox.clear()
    end(case, reason)
    assert case.session is not None
    assert fresh(case.session).status == Status.CANCELLED
    for minutes in range(5):
        sweep(now=NOW + timedelta(minutes=minutes))
    assert len([one for one in mail.outbox if "cancelled" in one.subject]) == letters
    assert len(mail.outbox) == letters
    assert TrailEntry.objects.filter(verb="patients.died").exists() is not bool(letters)


def test_the_register_says_it_and_takes_it_back(cast: Cast, case: Lived, desk: Client) -> None:
    where, page = reverse("patient_died", args=[cast.patient.pk]), reverse("patient", args=[cast.patient.pk])
    args = [cast.patient.pk]
    keys = [f'href="{reverse(name, args=args)}"' for name in ("find_time", "walk_in", "waitlist_add")]
    before = desk.get(page).content.decode()
    assert ("Noted as died" in before, [key in before for key in keys]) == (False, [True] * 3)
    assert desk.post(where)["Location"] == page
    assert Patient.objects.get(pk=cast.patient.pk).died_on == NOW.date()
    noted = desk.get(page).content.decode().split("Noted as died:")[1]
    assert [key in noted for key in keys] == [False] * 3
    assert "Tue 3 Mar 2026" in noted.split("Nothing is sent")[0]
    # Said again it stays the same note.
    desk.post(where)
    assert TrailEntry.objects.filter(verb="patients.died").count() == 1
    assert desk.post(where, {"back": "1"})["Location"] == page
    assert Patient.objects.get(pk=cast.patient.pk).died_on is None
    assert TrailEntry.objects.filter(verb="patients.death_taken_back").count() == 1


def test_other_site(cast: Cast, case: Lived) -> None:
    client = sign_in(cast.elsewhere_desk)
    with nothing_written():
        assert client.post(reverse("patient_died", args=[cast.patient.pk])).status_code == 404
