"""What must hold for any patient: no worse answer makes a better outcome."""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.soak import examples
from tests.whitening.screening.someone import (
    ALL_WELL,
    IN_PRIVATE_WELL,
    LOOKED_AT_ALL,
    PLAN,
    TODAY,
    UK,
    US,
    codes,
    outcome,
    said,
)
from whitening.screening.examination import Examination, Gums, Item, Periodontitis, SoftTissue, ToothFinding, Trouble
from whitening.screening.facts import AnswerValue, PlanFacts
from whitening.screening.grades import Grade
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.questions import Kind, Question, questionnaire
from whitening.screening.teeth import WHITENING_RANGE

YES_NO = [question.id for question in questionnaire().questions if question.kind in {Kind.YES_NO, Kind.YES_NO_UNSURE}]
SEVERAL = [question.id for question in questionnaire().questions if question.kind is Kind.SEVERAL]
WELL = ALL_WELL | IN_PRIVATE_WELL
DAYS = {"whitened_last_on": date(2025, 1, 1)}


def _values(question: Question) -> st.SearchStrategy[AnswerValue]:
    """Every answer that the question takes; of lists a few."""
    offered = [value for value, _ in question.choices]
    match question.kind:
        case Kind.SEVERAL:
            return st.lists(st.sampled_from(offered), unique=True, max_size=3).map(tuple)
        case Kind.LIST:
            return st.sampled_from([(), ("naproxen",), ("something unheard of",)])
        case Kind.NUMBER:
            return st.integers(0, 10)
        case Kind.DATE:
            return st.dates(DAYS.get(question.id, date(2025, 11, 1)), date(2026, 3, 1))
        case Kind.YES_NO | Kind.YES_NO_UNSURE:
            return st.sampled_from(["yes", "no", "unsure"])
        case Kind.CHOICE:
            return st.sampled_from(offered)


VALUES: dict[str, st.SearchStrategy[AnswerValue | None]] = {
    question.id: st.none() | _values(question) for question in questionnaire().questions
}
Said = dict[str, AnswerValue | None]
# How many were drawn: what a full run writes down.
DRAWN: Counter[str] = Counter()


def _drawn(answers: Said) -> Said:
    DRAWN["answer sets"] += 1
    return answers


ANSWERS = st.fixed_dictionaries(VALUES).map(_drawn)
TEETH = st.lists(
    st.builds(
        ToothFinding,
        number=st.sampled_from(sorted(WHITENING_RANGE)),
        troubles=st.frozensets(st.sampled_from(Trouble), max_size=2),
        restored_on=st.none() | st.dates(date(2026, 1, 1), date(2026, 3, 2)),
    ),
    max_size=3,
    unique_by=lambda row: row.number,
)
EXAMINATIONS = st.none() | st.builds(
    Examination,
    examined_at=st.just(LOOKED_AT_ALL.examined_at),
    examined_on=st.just(LOOKED_AT_ALL.examined_on),
    profession=st.just(LOOKED_AT_ALL.profession),
    looked_at=st.frozensets(st.sampled_from(Item)),
    teeth=TEETH.map(tuple),
    milk_teeth=st.sampled_from([(), ("55",)]),
    gums=st.builds(Gums, inflamed=st.booleans(), periodontitis=st.sampled_from(Periodontitis)),
    soft_tissue=st.builds(SoftTissue, sore=st.booleans(), suspicious=st.booleans(), cold_sore=st.booleans()),
    deposits=st.booleans(),
    cleaned_on=st.none() | st.dates(date(2025, 1, 1), date(2026, 3, 2)),
)
PLANS = st.builds(
    lambda light, resin, lower, left_out: replace(
        PLAN, uses_light=light, resin_barrier=resin, lower=lower, left_out=left_out
    ),
    st.booleans(),
    st.booleans(),
    st.booleans(),
    st.frozensets(st.sampled_from(sorted(WHITENING_RANGE)), max_size=3),
)
PLACES = st.sampled_from([UK, US])
pytestmark = pytest.mark.soak
MANY = settings(max_examples=examples(150, 10_000), deadline=None)


@pytest.fixture(autouse=True)
def counted(note: Callable[..., None]) -> Iterator[None]:
    DRAWN.clear()
    yield
    note(**DRAWN)


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS, PLACES, st.sampled_from(YES_NO))
def test_a_yes_is_never_better_than_a_no(
    answers: Said, examination: Examination | None, plan: PlanFacts, place: Jurisdiction, name: str
) -> None:
    yes, unsure, no = (
        outcome(answers=said(**(answers | {name: reply})), examination=examination, plan=plan, jurisdiction=place)
        for reply in ("yes", "unsure", "no")
    )
    assert yes.standing >= no.standing
    assert unsure.standing >= no.standing
    assert set(codes(no)) <= set(codes(yes)) | {found.rule.code for found in no.findings if not found.blocks}


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS, st.sampled_from(SEVERAL), st.data())
def test_one_more_thing_ticked_is_never_better(
    answers: Said, examination: Examination | None, plan: PlanFacts, name: str, data: st.DataObject
) -> None:
    offered = [value for value, _ in questionnaire().question(name).choices]
    some = data.draw(st.lists(st.sampled_from(offered), unique=True, max_size=len(offered) - 1))
    more = (*some, data.draw(st.sampled_from([one for one in offered if one not in some])))
    fewer, further = (
        outcome(answers=said(**(answers | {name: ticked})), examination=examination, plan=plan)
        for ticked in (tuple(some), more)
    )
    assert further.standing >= fewer.standing
    assert set(codes(fewer)) <= set(codes(further))


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS, st.sampled_from(sorted(WELL)), st.data())
def test_no_answer_is_better_than_all_well(
    answers: Said, examination: Examination | None, plan: PlanFacts, name: str, data: st.DataObject
) -> None:
    other = data.draw(_values(questionnaire().question(name)))
    told, well = (
        outcome(answers=said(**(answers | {name: reply})), examination=examination, plan=plan)
        for reply in (other, WELL[name])
    )
    assert told.standing >= well.standing


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS, st.sampled_from(sorted(WELL)))
def test_an_open_question_is_never_better_than_all_well(
    answers: Said, examination: Examination | None, plan: PlanFacts, name: str
) -> None:
    unanswered, well = (
        outcome(answers=said(**(answers | {name: reply})), examination=examination, plan=plan)
        for reply in (None, WELL[name])
    )
    assert unanswered.standing >= well.standing
    assert not unanswered.clear


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS)
def test_taking_the_light_out_never_adds_a_finding(
    answers: Said, examination: Examination | None, plan: PlanFacts
) -> None:
    lit = outcome(answers=said(**answers), examination=examination, plan=replace(plan, uses_light=True))
    dark = outcome(answers=said(**answers), examination=examination, plan=replace(plan, uses_light=False))
    assert codes(dark) == codes(lit)
    assert dark.standing <= lit.standing
    assert {found.rule.code for found in dark.in_force} <= {found.rule.code for found in lit.in_force}


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS, st.sampled_from(sorted(VALUES)), st.data())
def test_another_answer_never_removes_another_rules_must_not(
    answers: Said, examination: Examination | None, plan: PlanFacts, name: str, data: st.DataObject
) -> None:
    """Unless the answer is the one that the must-not rests on."""
    before = outcome(answers=said(**answers), examination=examination, plan=plan)
    value = data.draw(VALUES[name])
    after = outcome(answers=said(**(answers | {name: value})), examination=examination, plan=plan)
    resting = {found.rule.code for found in before.must_nots if name not in found.rule.asks}
    assert resting <= {found.rule.code for found in after.must_nots}


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS)
def test_the_worst_finding_is_the_outcome(answers: Said, examination: Examination | None, plan: PlanFacts) -> None:
    result = outcome(answers=said(**answers), examination=examination, plan=plan)
    assert result.worst == max((found.grade for found in result.findings), default=None)
    assert result.clear is (not result.unanswered and all(found.grade < Grade.NOT_YET for found in result.findings))
    rules_open = {unanswered.rule.code for unanswered in result.unanswered}
    assert not rules_open & set(codes(result))


@MANY
@given(ANSWERS, EXAMINATIONS, PLANS, st.dates(date(2026, 3, 3), date(2026, 9, 30)))
def test_what_a_finding_rests_on_does_not_change_with_the_day(
    answers: Said, examination: Examination | None, plan: PlanFacts, day: date
) -> None:
    """A decision taken today must still hold on the day of the session that it was taken for."""
    now, then = (outcome(answers=said(**answers), examination=examination, plan=plan, today=on) for on in (TODAY, day))
    rests_on = {found.rule.code: found.basis for found in now.in_force}
    assert all(rests_on.get(found.rule.code, found.basis) == found.basis for found in then.in_force)
