"""Whoever's registration or indemnity has run out examines, decides, plans, talks through and countersigns nothing."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import User
from clinic.accounts.rights import CoverRunOut
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from whitening.consent.actions import countersign
from whitening.screening.actions import ask_again, decide, decide_reask
from whitening.screening.decisions import DecisionKind
from whitening.screening.reading import answers_of, outcome_of
from whitening.screening.reask import reask_items

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
FIELDS = ("registration_expires_on", "indemnity_expires_on")
SENTENCE = "Your registration or indemnity has run out, so you cannot record this."
Deed = Callable[[Lived], object]


def decides(case: Lived) -> object:
    finding = outcome_of(case.case, today=NOW.date()).finding("SEN-02")
    assert finding is not None
    dentist = case.cast.clinician
    return decide(
        case=case.case,
        rule="SEN-02",
        basis=finding.basis,
        kind=DecisionKind.CLEARED,
        reason="The teeth are calm.",
        evidence="Looked at today.",
        user=dentist,
        actor=actor_of(dentist),
        now=NOW,
    )


def goes_on(case: Lived) -> object:
    dentist = case.cast.clinician
    return decide_reask(case=case.case, reason="A cold.", user=dentist, actor=actor_of(dentist), now=NOW)


def countersigns(case: Lived) -> object:
    dentist = case.cast.clinician
    return countersign(case=case.case, user=dentist, actor=actor_of(dentist), now=NOW)


DEEDS: dict[str, Deed] = {
    "examine": lambda case: lived.examined(case, at=NOW),
    "decide": decides,
    "plan": lambda case: lived.planned(case, at=NOW),
    "talk": lambda case: course.talked(case.cast, case.case, now=NOW),
    "countersign": countersigns,
    "go on": goes_on,
}


def waiting_for_everything(cast: Cast) -> Lived:
    """Examined, planned and signed yesterday; something new on the day; nothing is countersigned yet."""
    case = lived.with_answers(cast, instead={"sensitivity": ["6"]})
    lived.examined(case)
    lived.planned(case)
    lived.talked_and_signed(case)
    items = reask_items(answers_of(case.case) or pytest.fail("answered"))
    replies = {item.id: item.usual for item in items}
    new = next(item for item in items if item.needs_decision and item.id != "go_ahead")
    replies[new.id] = "no" if new.usual == "yes" else "yes"
    nurse = cast.assistant
    ask_again(case=case.case, shown=list(replies), replies=replies, user=nurse, actor=actor_of(nurse), now=NOW)
    return case


def runs_out(cast: Cast, field: str, days: int = -1) -> None:
    User.objects.filter(pk=cast.clinician.pk).update(**{field: NOW.date() + timedelta(days=days)})
    cast.clinician.refresh_from_db()


@pytest.mark.parametrize("field", FIELDS)
@pytest.mark.parametrize("deed", DEEDS)
def test_out_of_date_writes_nothing(cast: Cast, deed: str, field: str) -> None:
    case = waiting_for_everything(cast)
    runs_out(cast, field)
    with nothing_written(), pytest.raises(CoverRunOut, match="ask a manager to enter the new date under People"):
        DEEDS[deed](case)


@pytest.mark.parametrize("deed", DEEDS)
def test_its_last_day_counts(cast: Cast, deed: str) -> None:
    case = waiting_for_everything(cast)
    for field in FIELDS:
        runs_out(cast, field, days=0)
    entries = TrailEntry.objects.count()
    DEEDS[deed](case)
    assert TrailEntry.objects.count() == entries + 1


@pytest.mark.parametrize("name", ["examination", "plan", "consent"])
def test_it_is_said_before_anything_is_typed(cast: Cast, name: str) -> None:
    case, words = waiting_for_everything(cast), "so nothing can be recorded here"
    client, where = sign_in(cast.clinician), reverse(name, args=[case.case.pk])
    assert words not in client.get(where).content.decode()
    runs_out(cast, FIELDS[0])
    assert words in client.get(where).content.decode()


def _examination(client: Client, pk: int) -> Answer:
    return client.post(reverse("examination", args=[pk]), {"everything": "on", "periodontitis": "none"})


def _countersignature(client: Client, pk: int) -> Answer:
    return client.post(reverse("consent_countersign", args=[pk]))


@pytest.mark.parametrize("send", [_examination, _countersignature])
def test_the_page_says_it(cast: Cast, send: Callable[[Client, int], Answer]) -> None:
    case = waiting_for_everything(cast)
    runs_out(cast, FIELDS[0])
    client = sign_in(cast.clinician)
    with nothing_written():
        answer = send(client, case.case.pk)
    assert answer.status_code == 409
    assert SENTENCE in answer.content.decode()
