"""Every gate in every state it can take, and what nobody can clear. Pure."""

from dataclasses import replace
from datetime import date

import pytest

from whitening.casebook.gates import (
    GATES,
    MARKS,
    Gate,
    GateFacts,
    GateState,
    asked_again,
    batch,
    booked_time,
    consent,
    evaluate,
    examination,
    identity,
    interval,
    light,
    plan,
    questions,
    shut,
)

DAY = date(2026, 3, 3)
OPEN, SHUT = GateState.OPEN, GateState.SHUT
READY = GateFacts(
    today=DAY,
    has_answers=True,
    answers_in_date=True,
    findings_clear=True,
    asked_again_on=DAY,
    identity_confirmed_on=DAY,
    has_examination=True,
    has_plan=True,
    law_clear=True,
    signed_this_plan=True,
    countersigned=True,
    uses_light=True,
    uses_barrier=True,
    light_checked=True,
    barrier_light_checked=True,
    batch_ready=True,
)
YESTERDAY = date(2026, 3, 2)


def said(gate: Gate) -> tuple[str, list[str]]:
    return gate.state.value, [str(words) for words in gate.says]


@pytest.mark.parametrize(
    ("gate", "changed", "state", "says"),
    [
        (identity, {}, "open", []),
        (identity, {"identity_confirmed_on": None}, "shut", ["Ask for name and date of birth on the day"]),
        (identity, {"identity_confirmed_on": YESTERDAY}, "shut", ["Ask for name and date of birth on the day"]),
        (booked_time, {}, "not_needed", ["None is booked"]),
        (booked_time, {"first_on": date(2026, 3, 9)}, "not_needed", ["None is booked"]),
        (booked_time, {"booking_id": 7}, "open", []),
        (booked_time, {"booking_id": 7, "first_on": DAY}, "open", []),
        (
            booked_time,
            {"booking_id": 7, "pencilled_until": date(2026, 3, 2)},
            "with_care",
            ["Pencilled until Mon 2 Mar 2026: confirm it before then"],
        ),
        # That it is too early comes first: confirming would not help.
        (
            booked_time,
            {"booking_id": 7, "pencilled_until": date(2026, 3, 2), "first_on": date(2026, 3, 4)},
            "shut",
            ["Not before Wed 4 Mar 2026; booked for Tue 3 Mar 2026: move it"],
        ),
        (
            booked_time,
            {"booking_id": 7, "first_on": date(2026, 3, 4)},
            "shut",
            ["Not before Wed 4 Mar 2026; booked for Tue 3 Mar 2026: move it"],
        ),
        (questions, {}, "open", []),
        (questions, {"has_answers": False}, "shut", ["Answers missing"]),
        (questions, {"desk_words": ("Not before Mon 9 Mar 2026",)}, "shut", ["Not before Mon 9 Mar 2026"]),
        (questions, {"findings_clear": False}, "shut", ["Dentist to decide"]),
        (questions, {"answers_in_date": False}, "shut", ["Answers are older than 30 days: ask again"]),
        (questions, {"findings_cleared_by": ("Cleo Haddad",)}, "cleared", ["Cleo Haddad"]),
        (questions, {"steps_of_care": 1}, "with_care", ["1 step to do at the chair"]),
        (questions, {"steps_of_care": 3}, "with_care", ["3 steps to do at the chair"]),
        (questions, {"findings_of_care": 2}, "with_care", ["Something to take care of: read the findings"]),
        (questions, {"findings_of_care": 2, "steps_of_care": 1}, "with_care", ["1 step to do at the chair"]),
        # Cleared by decision says nothing of what is still to be done.
        (
            questions,
            {"findings_cleared_by": ("Cleo Haddad",), "steps_of_care": 2},
            "cleared",
            ["Cleo Haddad", "2 steps to do at the chair"],
        ),
        (asked_again, {}, "open", []),
        (asked_again, {"asked_again_on": None}, "shut", ["Go through the list with the patient on the day"]),
        (asked_again, {"asked_again_on": YESTERDAY}, "shut", ["Go through the list with the patient on the day"]),
        (asked_again, {"asked_again_on": None, "new_to_decide": True}, "shut", ["Dentist to decide"]),
        (examination, {}, "open", []),
        (examination, {"has_examination": False}, "shut", ["Not examined yet"]),
        (plan, {}, "open", []),
        (plan, {"has_plan": False}, "shut", ["No plan yet"]),
        (plan, {"law_clear": False}, "shut", ["Local rules are not met"]),
        (
            plan,
            {"law_clear": False, "operator_known": False},
            "shut",
            ["No clinician is booked yet who carries it out"],
        ),
        (plan, {"law_clear": False, "law_words": ("Too strong here",)}, "shut", ["Too strong here"]),
        (
            plan,
            {"lapsed": ("Cleo Haddad", "Hugo Weber")},
            "shut",
            [
                "Registration or indemnity of Cleo Haddad has run out",
                "Registration or indemnity of Hugo Weber has run out",
            ],
        ),
        (
            plan,
            {"has_plan": False, "lapsed": ("Cleo Haddad",)},
            "shut",
            ["No plan yet", "Registration or indemnity of Cleo Haddad has run out"],
        ),
        (consent, {}, "open", []),
        (consent, {"signed_this_plan": False}, "shut", ["Not signed for this plan"]),
        (consent, {"countersigned": False}, "shut", ["Not countersigned"]),
        (consent, {"withdrawn": True}, "shut", ["Consent was withdrawn"]),
        (consent, {"withdrawn": True, "signed_this_plan": False}, "shut", ["Consent was withdrawn"]),
        (light, {}, "open", []),
        (light, {"uses_light": False, "uses_barrier": False, "light_checked": False}, "not_needed", []),
        (light, {"light_checked": False}, "shut", ["Whitening light: check is due"]),
        (light, {"uses_light": False, "light_checked": False}, "open", []),
        (light, {"barrier_light_checked": False}, "shut", ["Curing light for the barrier: check is due"]),
        (light, {"uses_barrier": False, "barrier_light_checked": False}, "open", []),
        (
            light,
            {"light_checked": False, "barrier_light_checked": False},
            "shut",
            ["Whitening light: check is due", "Curing light for the barrier: check is due"],
        ),
        (batch, {}, "open", []),
        (batch, {"batch_ready": False}, "shut", ["No batch of the planned gel is in date and free"]),
        (batch, {"batch_ready": False, "has_plan": False}, "not_needed", []),
        (interval, {}, "not_needed", []),
        (interval, {"last_session_on": date(2026, 2, 24), "least_days_between": 7}, "open", []),
        (
            interval,
            {
                "last_session_on": date(2026, 2, 25),
                "least_days_between": 7,
                "earliest_next_on": date(2026, 3, 4),
            },
            "shut",
            ["Not before Wed 4 Mar 2026"],
        ),
    ],
)
def test_a_gate(gate: object, changed: dict[str, object], state: str, says: list[str]) -> None:
    assert callable(gate)
    assert said(gate(replace(READY, **changed))) == (state, says)  # type: ignore[arg-type]  # each row names its own


def test_all_are_asked_in_the_order_in_which_people_settle_them() -> None:
    assert [gate.code for gate in evaluate(READY)] == [
        "identity",
        "booked_time",
        "questions",
        "examination",
        "plan",
        "consent",
        "light",
        "batch",
        "interval",
        "asked_again",
    ]


def test_each_gate_names_its_source() -> None:
    sources = ("Source", "source", "invariant", "S23")
    assert [gate.__name__ for gate in GATES if not any(word in (gate.__doc__ or "") for word in sources)] == []


def test_with_everything_settled_nothing_is_shut() -> None:
    assert shut(evaluate(READY)) == []


def test_with_nothing_known_everything_that_can_be_shut_is() -> None:
    """What nobody said is never taken for granted."""
    states = {gate.code: gate.state for gate in evaluate(GateFacts(today=DAY, uses_light=True))}
    assert {code for code, state in states.items() if state is not SHUT} == {"interval", "batch", "booked_time"}


def test_the_days_own_gates_do_not_count_beforehand() -> None:
    before = evaluate(replace(READY, identity_confirmed_on=None, asked_again_on=None))
    assert [gate.code for gate in shut(before)] == ["identity", "asked_again"]
    assert shut(before, beforehand=True) == []


def test_a_decision_never_hides_what_still_stands() -> None:
    """A must-not stays shut, whoever else has cleared whatever else."""
    facts = replace(READY, desk_words=("Not going ahead",), findings_clear=False, findings_cleared_by=("Cleo Haddad",))
    assert said(questions(facts)) == ("shut", ["Not going ahead"])


@pytest.mark.parametrize("gate", [identity, plan, consent, batch, light, interval, examination, asked_again])
def test_no_decision_clears_the_other_gates(gate: object) -> None:
    assert callable(gate)
    cleared = gate(replace(READY, findings_cleared_by=("Cleo Haddad",), withdrawn=True, batch_ready=False))
    assert cleared.state is not GateState.CLEARED


def test_every_state_has_its_mark() -> None:
    assert set(MARKS) == set(GateState)
    assert consent(READY).mark == "ready"
