"""What the rules come to: every finding that fired, what is still open, and the worst of it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import IntEnum, StrEnum

from django.utils.translation import gettext_lazy as _

from whitening.screening.decisions import DecisionFacts
from whitening.screening.grades import AnsweredBy, Family, Grade
from whitening.screening.loader import Rule
from whitening.screening.words import Words


class State(StrEnum):
    """Only what stands counts. The others stay listed: what the patient said is never hidden."""

    STANDS = "stands"
    KEPT_OUT_BY_PLAN = "kept_out_by_plan"
    EXAMINED = "examined"
    CLEARED = "cleared"

    @property
    def label(self) -> Words:
        return STATE_LABELS[self]


STATE_LABELS: dict[State, Words] = {
    State.STANDS: _("stands"),
    State.KEPT_OUT_BY_PLAN: _("the plan leaves it out"),
    State.EXAMINED: _("examined since"),
    State.CLEARED: _("cleared by decision"),
}


class Standing(IntEnum):
    """Worst last. An open question is worse than a step to take care of, and never as good as a no."""

    CLEAR = 0
    NOTE = 1
    WITH_CARE = 2
    NOT_CLEARED = 3
    NOT_YET = 4
    MUST_NOT = 5


OF_GRADE = {
    Grade.NOTE: Standing.NOTE,
    Grade.WITH_CARE: Standing.WITH_CARE,
    Grade.NOT_YET: Standing.NOT_YET,
    Grade.MUST_NOT: Standing.MUST_NOT,
}


@dataclass(frozen=True, slots=True)
class Finding:
    """`basis` names exactly what it rests on; a decision holds only as long as that stays the same."""

    rule: Rule
    state: State
    basis: str
    teeth: tuple[str, ...] = ()
    not_before: date | None = None
    decision: DecisionFacts | None = None

    @property
    def in_force(self) -> bool:
        return self.state is State.STANDS

    @property
    def grade(self) -> Grade:
        """As it counts now; the rule's own grade is `rule.grade`."""
        return self.rule.grade if self.in_force else Grade.NOTE

    @property
    def blocks(self) -> bool:
        return self.grade >= Grade.NOT_YET


@dataclass(frozen=True, slots=True)
class Unanswered:
    rule: Rule
    waits_for: AnsweredBy


@dataclass(frozen=True, slots=True)
class Outcome:
    today: date
    findings: tuple[Finding, ...]
    unanswered: tuple[Unanswered, ...]

    @property
    def in_force(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.in_force)

    @property
    def must_nots(self) -> tuple[Finding, ...]:
        """What the plan must leave out before it can be kept."""
        return tuple(finding for finding in self.findings if finding.grade is Grade.MUST_NOT)

    @property
    def worst(self) -> Grade | None:
        return max((finding.grade for finding in self.findings), default=None)

    @property
    def standing(self) -> Standing:
        graded = OF_GRADE[self.worst] if self.worst else Standing.CLEAR
        # An open question lifts a milder outcome, and never hides a worse one.
        return max(graded, Standing.NOT_CLEARED) if self.unanswered else graded

    @property
    def clear(self) -> bool:
        """Nothing blocks and nothing is open; steps to take care of may remain."""
        return self.standing < Standing.NOT_CLEARED

    @property
    def with_care(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.in_force if finding.grade is Grade.WITH_CARE)

    @property
    def to_do(self) -> tuple[Finding, ...]:
        """Of those, what is done at the chair; the others are matters of the plan and of the talk."""
        return tuple(finding for finding in self.with_care if finding.rule.at_the_chair is not None)

    @property
    def not_before(self) -> date | None:
        """The latest day that a blocking finding names. Waiting alone need not be enough: see the rule's event."""
        # A day that has passed says nothing any more: what still blocks then waits for its event.
        days = [finding.not_before for finding in self.findings if finding.blocks and finding.not_before]
        return max((day for day in days if day > self.today), default=None)

    def of(self, *families: Family) -> "Outcome":
        return self._keeping(families)

    def without(self, *families: Family) -> "Outcome":
        return self._keeping(set(Family) - set(families))

    def _keeping(self, families: Iterable[Family]) -> "Outcome":
        kept = set(families)
        return replace(
            self,
            findings=tuple(finding for finding in self.findings if finding.rule.family in kept),
            unanswered=tuple(open_ for open_ in self.unanswered if open_.rule.family in kept),
        )

    def finding(self, code: str) -> Finding | None:
        return next((finding for finding in self.findings if finding.rule.code == code), None)
