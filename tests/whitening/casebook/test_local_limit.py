"""A limit made stricter after planning: the gate shuts before the session and names the rule; the plan is explained."""

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.cast import NOW, Cast
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from tests.whitening.ownrules import WHERE, written_over
from whitening.casebook.facts import Ask, facts_of_many
from whitening.casebook.gates import Gate, evaluate
from whitening.cases.access import plan_in_force
from whitening.chairside.actions import GatesShut
from whitening.screening.actions import PlanNotAllowed
from whitening.screening.grades import Profession
from whitening.screening.local_rules import rule_as_it_was

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def gates_of(case: Lived, by: Profession = Profession.DENTIST) -> dict[str, Gate]:
    ask = Ask(case_id=case.case.pk, day=NOW.date(), carried_out_by=by)
    return {gate.code: gate for gate in evaluate(facts_of_many([ask])[0])}


def test_a_stricter_limit_shuts_the_gate_and_names_itself(cast: Cast) -> None:
    case = lived.agreed(cast)
    lived.here(case)
    assert not gates_of(case)["plan"].is_shut
    written_over(cast, hp_cap_percent="5.5")
    sentence = (
        "6 % hydrogen peroxide is more than the 5.5 % (present or released, as used) that this practice allows "
        f"(United Kingdom): own rule, version 1.1, {WHERE}. Choose a weaker gel."
    )
    assert [str(one) for one in gates_of(case)["plan"].says] == [sentence]
    with nothing_written(), pytest.raises(GatesShut):
        lived.started(case)
    with nothing_written(), pytest.raises(PlanNotAllowed, match="this practice allows"):
        lived.planned(case)
    # Back at the program's own limit, the signed plan may go ahead.
    written_over(cast, hp_cap_percent="6")
    assert not gates_of(case)["plan"].is_shut
    lived.started(case)


def test_a_plan_keeps_the_rule_it_was_judged_by(cast: Cast) -> None:
    case = lived.agreed(cast)
    plan = plan_in_force(case.case)
    assert plan is not None
    assert (plan.jurisdiction, plan.local_rule_version) == ("UK", "1")
    written_over(cast, cooling_off_days="2")
    written_over(cast, hp_cap_percent="5")
    then = rule_as_it_was(plan.jurisdiction, plan.local_rule_version)
    assert then is not None
    assert (then.hp_cap_percent, then.checked_on) == (Decimal(6), date(2026, 11, 25))
    between = rule_as_it_was("UK", "1.1")
    assert between is not None
    assert (between.hp_cap_percent, between.cooling_off_days) == (Decimal(6), 2)
    for unknown in ("2", "1.3", "1.x", "1.²", "", "9.1", "1.1.1"):
        assert rule_as_it_was("UK", unknown) is None
    assert rule_as_it_was("XX", "1") is None


def test_who_may_treat_as_the_practice_wrote_it(cast: Cast) -> None:
    case = lived.agreed(cast)
    words = "The person at the chair may not carry this out here, or the prescription is missing"
    assert [str(one) for one in gates_of(case, Profession.NURSE)["plan"].says] == [words]
    written_over(cast, on_prescription="hygienist therapist clinical_technician nurse")
    assert not gates_of(case, Profession.NURSE)["plan"].is_shut


def test_many_cases_ask_once(cast: Cast) -> None:
    first, second = lived.with_answers(cast), lived.with_answers(cast, name="Bo Andersson")
    written_over(cast, cooling_off_days="1")
    asks = [Ask(case_id=case.case.pk, day=NOW.date(), carried_out_by=None) for case in (first, second)]
    with CaptureQueriesContext(
        connection,
    ) as two:
        facts_of_many(asks)
    assert sum("localrulechange" in query["sql"] for query in two.captured_queries) == 1
