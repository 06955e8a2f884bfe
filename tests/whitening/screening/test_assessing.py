"""The clinician's page of findings: reason, source, what would clear each; decisions by those who may."""

from datetime import timedelta

import pytest
from django.db.models import CharField
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.models import Case
from whitening.screening.actions import DecisionNotPossible, decide
from whitening.screening.decisions import DecisionKind, kinds_for
from whitening.screening.models import Decision
from whitening.screening.outcome import Finding, State
from whitening.screening.reading import outcome_of
from whitening.screening.rulebook import RULES_VERSION, rule, rules
from whitening.screening.teeth import teeth

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


@pytest.fixture
def case(cast: Cast) -> Case:
    return chairs.a_case(cast)


def finding(case: Case, code: str) -> Finding:
    found = outcome_of(case, today=NOW.date()).finding(code)
    assert found is not None
    return found


def page(client: Client, case: Case) -> str:
    answer = client.get(reverse("assessment", args=[case.pk]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def send(client: Client, case: Case, code: str, **changed: str) -> Answer:
    fields = {
        "rule": code,
        "basis": finding(case, code).basis,
        "kind": "cleared",
        "reason": "talked through, she is well",
        "evidence": "",
    }
    return client.post(reverse("decision", args=[case.pk]), fields | changed)


def test_it_works(cast: Cast, case: Case) -> None:
    course.answered(cast, case, pregnancy_may_apply="yes", pregnant="no", breastfeeding="yes")
    client = sign_in(cast.clinician)
    shown = page(client, case)
    for code in ("PRG-02", "LAW-03"):
        one = rule(code)
        for words in (one.finding, one.reason, one.what_to_do, one.clears.on_event, one.source, one.quality.label):
            assert str(words) in shown.replace("&#x27;", "'").replace("&amp;", "&"), (code, words)
    assert send(client, case, "PRG-02")["Location"] == reverse("assessment", args=[case.pk])
    row = Decision.objects.get()
    assert (row.rule, row.sort, row.decided_by, row.decided_at) == ("PRG-02", "cleared", cast.clinician, NOW)
    assert finding(case, "PRG-02").state is State.CLEARED
    assert "talked through, she is well" in page(client, case)


def test_what_no_decision_ends_can_only_be_confirmed(cast: Cast, case: Case) -> None:
    course.answered(cast, case, pregnancy_may_apply="yes", pregnant="yes", breastfeeding="no")
    shown = page(sign_in(cast.clinician), case)
    row = next(one for one in shown.split("<li>") if ">PRG-01<" in one)
    assert "no decision ends it; only the fact itself does" in row
    assert "the patient says that they are not pregnant" in row
    assert "Confirm that it stands" in row
    assert ">Decide<" not in row
    assert 'value="stands"' in row
    assert 'value="cleared"' not in row


@pytest.mark.parametrize("who", ["desk", "assistant", "hygienist", "manager"])
def test_wrong_role(cast: Cast, case: Case, who: str) -> None:
    course.answered(cast, case, breastfeeding="yes", pregnancy_may_apply="yes", pregnant="no")
    client = sign_in(getattr(cast, who))
    with nothing_written():
        assert send(client, case, "PRG-02").status_code == 403
        assert client.get(reverse("assessment", args=[case.pk])).status_code == 403


def test_who_may_read_and_not_decide_sees_no_form(cast: Cast, case: Case) -> None:
    cast.assistant.may_see_clinical_answers = True
    cast.assistant.save()
    course.answered(cast, case, breastfeeding="yes", pregnancy_may_apply="yes", pregnant="no")
    shown = page(sign_in(cast.assistant), case)
    assert str(rule("PRG-02").finding) in shown
    assert 'name="kind"' not in shown
    assert reverse("examination", args=[case.pk]) not in shown


def test_other_site(cast: Cast, case: Case) -> None:
    client = sign_in(cast.elsewhere)
    with nothing_written():
        assert client.get(reverse("assessment", args=[case.pk])).status_code == 404
        assert client.post(reverse("decision", args=[case.pk])).status_code == 404


def test_wrong_method(cast: Cast, case: Case) -> None:
    client = sign_in(cast.clinician)
    with nothing_written():
        assert client.get(reverse("decision", args=[case.pk])).status_code == 405
        assert client.post(reverse("assessment", args=[case.pk])).status_code == 405


def test_a_must_not_is_not_waved_through(cast: Cast, case: Case) -> None:
    course.answered(cast, case, reacted_to_peroxide="yes")
    client = sign_in(cast.clinician)
    with nothing_written():
        refused = send(client, case, "ALG-01", evidence="letter of 27 Feb 2026")
    # The page does not even offer it, and the action refuses whatever is sent.
    assert refused.status_code == 422 or "cannot be waved through" in refused.content.decode()
    with nothing_written(), pytest.raises(DecisionNotPossible, match="cannot be waved through"):
        decide(
            case=case,
            rule="ALG-01",
            basis=finding(case, "ALG-01").basis,
            kind=DecisionKind.CLEARED,
            reason="she wants it",
            evidence="",
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=NOW,
        )


def test_a_must_not_ends_by_an_examined_finding_with_evidence(cast: Cast, case: Case) -> None:
    course.answered(cast, case, reacted_to_peroxide="yes")
    client = sign_in(cast.clinician)
    with nothing_written():
        refused = send(client, case, "ALG-01", kind="examined")
        assert refused.status_code == 409
        assert "Name the evidence" in refused.content.decode()
    send(client, case, "ALG-01", kind="examined", evidence="patch test of 20 Feb 2026, negative")
    assert finding(case, "ALG-01").state is State.EXAMINED
    # What the patient said stays to be read.
    assert "Have you ever reacted badly to peroxide?" in page(client, case)


@pytest.mark.parametrize("code", ["LAW-03"])
def test_law_knows_no_decision(cast: Cast, case: Case, code: str) -> None:
    course.answered(cast, case)
    client = sign_in(cast.clinician)
    for kind in ("cleared", "examined"):
        with nothing_written():
            assert send(client, case, code, kind=kind, evidence="x").status_code in {409, 422}


def test_no_reason_no_decision_and_the_words_stay(cast: Cast, case: Case) -> None:
    course.answered(cast, case, breastfeeding="yes", pregnancy_may_apply="yes", pregnant="no")
    client = sign_in(cast.clinician)
    with nothing_written():
        refused = send(client, case, "PRG-02", reason=" ", evidence="seen her midwife's letter")
    assert refused.status_code == 422
    shown = refused.content.decode()
    assert "Give the reason in your own words." in shown
    assert "seen her midwife&#x27;s letter" in shown
    assert "<details open>" in shown


def test_the_basis_has_changed_meanwhile(cast: Cast, case: Case) -> None:
    course.answered(cast, case, breastfeeding="yes", pregnancy_may_apply="yes", pregnant="no")
    stale = finding(case, "PRG-02").basis
    later = NOW + timedelta(minutes=5)
    course.answered(cast, case, now=later, breastfeeding="yes", pregnancy_may_apply="yes", pregnant="no")
    client = sign_in(cast.clinician)
    with nothing_written():
        refused = send(client, case, "PRG-02", basis=stale)
    assert refused.status_code == 409
    assert "The finding has changed since this page was opened." in refused.content.decode()


def test_a_finding_that_is_gone(cast: Cast, case: Case) -> None:
    course.answered(cast, case)
    client = sign_in(cast.clinician)
    fields = {"rule": "PRG-02", "basis": "x", "kind": "cleared", "reason": "well"}
    with nothing_written():
        refused = client.post(reverse("decision", args=[case.pk]), fields)
    assert refused.status_code == 409
    assert "This finding is not there any more." in refused.content.decode()


@pytest.mark.parametrize(
    "changed", [{"rule": "X" * 40}, {"kind": "nonsense"}, {"reason": "x" * 1001}, {"rule": "\x00"}]
)
def test_bad_input(cast: Cast, case: Case, changed: dict[str, str]) -> None:
    course.answered(cast, case, breastfeeding="yes", pregnancy_may_apply="yes", pregnant="no")
    client = sign_in(cast.clinician)
    with nothing_written():
        assert send(client, case, "PRG-02", **changed).status_code == 422


def test_nothing_stands_when_all_is_well(cast: Cast, case: Case) -> None:
    course.answered(cast, case)
    course.examined(cast, case)
    course.planned(cast, case)
    course_page = page(sign_in(cast.clinician), case)
    # The list of medicines was read at the examination; who carries it out and the consent are asked elsewhere.
    assert "Nothing stands against the plan today." in course_page


def test_earlier_answers_stay_visible(cast: Cast, case: Case) -> None:
    course.answered(cast, case, medicines=("amoxicillin",))
    course.answered(cast, case, now=NOW + timedelta(minutes=3))
    shown = page(sign_in(cast.clinician), case)
    assert "earlier: amoxicillin" in shown


def test_what_is_recognised_stands_beside_the_list_as_a_hint(cast: Cast, case: Case) -> None:
    course.answered(cast, case, medicines=("Amiodarone 200 mg", "green drops"))
    shown = page(sign_in(cast.clinician), case)
    assert "Amiodarone 200 mg: amiodarone, named most often in a review of reactions to light" in shown
    assert "green drops: not recognised" in shown
    assert "Read every line yourself" in shown


def test_reading_is_noted_and_writes_nothing_else(cast: Cast, case: Case) -> None:
    course.answered(cast, case)
    client = sign_in(cast.clinician)
    with nothing_written():
        page(client, case)


def test_what_is_written_fits_its_column() -> None:
    """SQLite takes any length; PostgreSQL does not."""
    every_tooth = "restorations:" + ",".join(teeth()) + "@" + NOW.isoformat()
    for field, value in (("rules_version", RULES_VERSION), ("basis", every_tooth)):
        column = Decision._meta.get_field(field)
        assert isinstance(column, CharField)
        assert 0 < len(value) <= (column.max_length or 0)


def test_what_is_offered_is_what_can_be_recorded() -> None:
    """For every rule: no kind of decision is offered that the rule could never take."""
    for one in rules().values():
        offered = kinds_for(one)
        assert (offered == ()) is one.never_overridable
        if one.grade.code == "must_not":
            assert DecisionKind.CLEARED not in offered
