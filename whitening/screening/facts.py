"""What is known when a rule looks: answers, patient, plan, consent. Plain values, no database."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal

from whitening.screening.grades import Profession
from whitening.screening.teeth import tooth

AnswerValue = str | int | date | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """`given_on` is the local day of `given_at`: waiting times count in days, order counts in instants."""

    value: AnswerValue
    given_at: datetime
    given_on: date


@dataclass(frozen=True, slots=True)
class Answers:
    """What the patient has said so far. A question that is not in `given` is unanswered, which is never a no."""

    version: str
    given: Mapping[str, Answer] = field(default_factory=dict)

    @classmethod
    def on_day(
        cls, *, version: str, values: Mapping[str, AnswerValue], given_at: datetime, given_on: date
    ) -> "Answers":
        return cls(version, {name: Answer(value, given_at, given_on) for name, value in values.items()})

    @property
    def values(self) -> dict[str, AnswerValue]:
        return {name: answer.value for name, answer in self.given.items()}

    def changed(self, *, newer: Mapping[str, Answer], forget: Collection[str] = ()) -> "Answers":
        """Later answers laid over earlier ones; the earlier set stays as it was."""
        # First forget, then lay over: an item may drop one answer and give another.
        kept = {name: answer for name, answer in self.given.items() if name not in forget}
        return replace(self, given=kept | dict(newer))


@dataclass(frozen=True, slots=True)
class PatientFacts:
    birth_on: date


@dataclass(frozen=True, slots=True)
class PlanFacts:
    version: int
    strength_hp_percent: Decimal
    uses_light: bool
    # The light-cured barrier is a methacrylate; isolation without resin is the other way.
    resin_barrier: bool
    upper: bool
    lower: bool
    left_out: frozenset[str] = frozenset()
    # Known on the day only; until then who may carry it out is an open question.
    carried_out_by: Profession | None = None
    prescribed_by: Profession | None = None
    supervised_by: Profession | None = None

    def on_planned_arch(self, number: str) -> bool:
        return self.upper if tooth(number).arch == "upper" else self.lower


@dataclass(frozen=True, slots=True)
class ConsentFacts:
    # None: never signed.
    signed_plan_version: int | None
    withdrawn: bool = False
