"""What a finding asks to be done at the chair: listed there, tapped done, told in the record; teeth left out."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from tests.whitening.chairside import chairs
from whitening.casebook.facts import Ask, facts_of_many
from whitening.casebook.gates import evaluate
from whitening.chairside import care, registries
from whitening.chairside.models import Session, SessionEvent
from whitening.screening.grades import Profession
from whitening.screening.outcome import Finding, State
from whitening.screening.rulebook import rule, rules

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock", "quick_paper")]
STEP = "Potassium nitrate and fluoride first; shorter times with the gel on."


@pytest.fixture
def case(cast: Cast) -> Lived:
    """Somebody whose teeth are a little sensitive to cold, two of ten."""
    case = lived.agreed(cast, instead={"sensitivity": ["2"]})
    lived.here(case)
    lived.started(case)
    return case


@pytest.fixture
def nurse(case: Lived) -> Client:
    return sign_in(case.cast.assistant)


def session() -> Session:
    return Session.objects.select_related("site", "case__site", "plan__product", "opened_by", "booking").get()


def page(client: Client) -> str:
    return client.get(reverse("chairside", args=[session().pk])).content.decode()


def wire() -> str:
    (step,) = care.steps_of(session(), chairs.state_at(session()), NOW)
    return step.wire


def tap(client: Client, wire: str) -> Answer:
    url = reverse("chairside_event", args=[session().pk])
    return client.post(url, {"e": wire}, headers={"X-Tap": "1"})


def test_it_works(case: Lived, nurse: Client) -> None:
    text = page(nurse)
    assert STEP in text
    assert f'value="{wire()}"' in text
    # The patient may look over somebody's shoulder, and the browser may keep the tap.
    for never in ("SEN-01", "With care", "sensitive to cold"):
        assert never not in text
    known = nurse.get(reverse("chairside_screen", args=[session().pk]))["ETag"]
    text = tap(nurse, wire()).content.decode()
    assert f'value="{wire()}"' not in text
    row = SessionEvent.objects.get(kind="care")
    assert (row.data, row.actor_name) == ({"finding": "SEN-01", "step": STEP}, case.cast.assistant.name)
    again = nurse.get(reverse("chairside_screen", args=[session().pk]), headers={"If-None-Match": known})
    assert again.status_code == 200
    told = sign_in(case.cast.clinician).get(reverse("case", args=[case.case.pk])).content.decode()
    assert f"Done for this patient: {STEP}" in told


def test_taken_back_it_is_to_be_done_again(case: Lived, nurse: Client) -> None:
    tap(nurse, wire())
    seq = SessionEvent.objects.get(kind="care").seq
    assert f'value="{wire()}"' in tap(nurse, f"39:{seq}").content.decode()


def test_what_was_done_stays_whatever_becomes_of_the_finding(case: Lived, nurse: Client) -> None:
    kept = wire()
    lived.answer(case, at=NOW)
    assert care.steps_of(session(), chairs.state_at(session()), NOW) == ()
    assert STEP not in page(nurse)
    # Done before that, and sent late.
    tap(nurse, kept)
    assert SessionEvent.objects.get(kind="care").data["step"] == STEP


@pytest.mark.parametrize("number", ["", "x", "²", "-1", "99999999", "never"])
def test_what_is_no_such_step_is_refused(case: Lived, nurse: Client, number: str) -> None:
    # "never": a rule that asks for something else than a step, as one that keeps people out.
    given = str(list(rules()).index("ALG-01")) if number == "never" else number
    with nothing_written():
        assert tap(nurse, f"42:{given}").status_code in {409, 422}


def test_the_gate_says_how_many(case: Lived) -> None:
    facts = facts_of_many([Ask(case_id=case.case.pk, day=NOW.date(), carried_out_by=Profession.DENTIST)])[0]
    (gate,) = [gate for gate in evaluate(facts) if gate.code == "questions"]
    assert (gate.state.value, [str(said) for said in gate.says]) == ("with_care", ["1 step to do at the chair"])


def test_at_which_teeth(case: Lived, monkeypatch: pytest.MonkeyPatch) -> None:
    finding = Finding(rule=rule("DEN-01"), state=State.STANDS, basis="", teeth=("13", "23"))
    monkeypatch.setattr(registries, "_care_checks", [lambda _session, _now: [finding]])
    (step,) = care.steps_of(session(), chairs.state_at(session()), NOW)
    assert str(step.words).endswith("(13, upper right canine · 23, upper left canine)")


def test_teeth_left_out_are_named_at_the_chair(cast: Cast) -> None:
    """As the form of the plan promises; until nothing more is done to any tooth."""
    case = lived.with_answers(cast)
    lived.examined(case)
    lived.planned(case, teeth_left_out=("14", "24"))
    lived.signed(case)
    lived.confirmed(case)
    lived.here(case)
    lived.started(case)
    nurse = sign_in(cast.assistant)
    named = "Left out of treatment: <strong>14, upper right first premolar · 24, upper left first premolar</strong>"
    assert named in page(nurse)
    assert "Left out of treatment" not in tap(nurse, "25:0").content.decode()


def test_nothing_to_say_is_not_said(cast: Cast) -> None:
    case = lived.agreed(cast)
    lived.here(case)
    lived.started(case)
    text = page(sign_in(cast.assistant))
    assert "Left out of treatment" not in text
    assert "for this patient:" not in text
