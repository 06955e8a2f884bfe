"""One card of the downtime pack: what the plan says, how it stood when printed, and rows to be filled in by hand."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.functional import Promise
from django_stubs_ext import StrOrPromise

from clinic.accounts.marks import MARKS
from clinic.diary.printing import Line
from clinic.documents.framing import patient_line
from clinic.patients.models import Patient
from whitening.casebook.facts import Ask
from whitening.casebook.gates import Gate, GateState
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseVisit, Plan
from whitening.consent.reading import standing
from whitening.screening.grades import Family, Grade
from whitening.screening.outcome import Finding
from whitening.screening.reading import answers_of, outcome_of
from whitening.screening.reask import reask_items, reask_list
from whitening.screening.teeth import tooth
from whitening.screening.words import Words

_SETTLED = frozenset({GateState.OPEN, GateState.NOT_NEEDED})


@dataclass(frozen=True, slots=True)
class Point:
    """One thing that was not simply settled: its title, the word of its mark, and what is missing."""

    title: StrOrPromise
    word: str | Promise
    says: Sequence[StrOrPromise]
    is_shut: bool


@dataclass(frozen=True, slots=True)
class Caution:
    """For whoever treats, never for the desk. step: what to do at the chair, if anything."""

    grade: StrOrPromise
    finding: StrOrPromise
    step: StrOrPromise
    teeth: Sequence[StrOrPromise]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    case_id: int
    patient: Patient
    line: Line
    plan: Plan | None
    number: int
    left_out: Sequence[StrOrPromise]
    points: Sequence[Point]
    cautions: Sequence[Caution]
    items: Sequence[Words]

    @property
    def whose(self) -> str:
        """On each sheet of a card: loose sheets are mixed up easily."""
        return patient_line(self.patient)

    @property
    def cycles(self) -> range:
        """A row for each cycle that was agreed, and none more."""
        return range(1, self.plan.cycles_per_session + 1) if self.plan else range(0)

    @property
    def most_minutes(self) -> int:
        return self.plan.cycles_per_session * self.plan.minutes_per_cycle if self.plan else 0

    @property
    def may_start(self) -> bool:
        """Nothing was missing beforehand; what belongs to the day itself is on the card."""
        return self.plan is not None and not any(point.is_shut for point in self.points)


def card_of(
    *,
    visit: CaseVisit,
    line: Line,
    plan: Plan | None,
    gates: Sequence[Gate],
    items: Sequence[Words],
    findings: Sequence[Finding],
) -> Card:
    return Card(
        case_id=visit.case_id,
        patient=visit.booking.patient,
        line=line,
        plan=plan,
        number=visit.session_number or 1,
        left_out=[tooth(number).label for number in plan.teeth_left_out] if plan else [],
        points=points_of(gates),
        cautions=[_caution(one) for one in findings],
        items=items,
    )


def points_of(gates: Sequence[Gate]) -> list[Point]:
    """What is asked on the day stands on the card as a box to tick, so here only what was known beforehand."""
    return [
        Point(gate.title, MARKS[gate.mark].word, gate.says, gate.is_shut)
        for gate in gates
        if gate.state not in _SETTLED and not gate.on_the_day
    ]


def _caution(finding: Finding) -> Caution:
    rule = finding.rule
    teeth = [tooth(number).label for number in finding.teeth]
    return Caution(finding.grade.label, rule.finding, rule.at_the_chair or "", teeth)


def findings_of(case: Case, ask: Ask) -> list[Finding]:
    """What counts for this patient on that day, the worst first."""
    plan = plan_in_force(case)
    outcome = outcome_of(
        case, today=ask.day, consent=standing(case, plan=plan).facts(), carried_out_by=ask.carried_out_by, plan=plan
    )
    found = outcome.without(Family.LAW, Family.CONSENT).in_force
    return sorted((one for one in found if one.grade >= Grade.WITH_CARE), key=lambda one: -one.grade)


def items_of(case: Case | None) -> list[Words]:
    """The list of the day: for this patient, or the whole of it where nobody may look at the answers."""
    answers = answers_of(case) if case is not None else None
    items = reask_items(answers) if answers is not None else reask_list().items
    return [item.text for item in items]
