"""What one rule sees, and the few ways in which rules look."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime

from whitening.screening.examination import Examination, Item, Trouble
from whitening.screening.facts import Answer, Answers, AnswerValue, ConsentFacts, PatientFacts, PlanFacts
from whitening.screening.grades import AnsweredBy
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.loader import Rule
from whitening.screening.questions import IN_PRIVATE, questionnaire

# Not being sure is for a person to sort out, so it counts like a yes.
POSITIVE = frozenset({"yes", "unsure"})


@dataclass(frozen=True, slots=True)
class Absent:
    """Asked and looked at, and it is not there."""


@dataclass(frozen=True, slots=True)
class Open:
    """Not known yet: never the same as absent."""

    waits_for: AnsweredBy


@dataclass(frozen=True, slots=True)
class Present:
    """`examined`: the patient said so, and somebody has looked since and found otherwise."""

    basis: str
    teeth: tuple[str, ...] = ()
    not_before: date | None = None
    examined: bool = False


Reading = Absent | Open | Present
ABSENT = Absent()


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything a rule may look at, and the rule's own row for its numbers."""

    rule: Rule
    answers: Answers
    patient: PatientFacts
    examination: Examination | None
    plan: PlanFacts | None
    consent: ConsentFacts | None
    jurisdiction: Jurisdiction | None
    today: date

    def answer(self, name: str) -> Answer | None:
        return self.answers.given.get(name)

    def value(self, name: str) -> AnswerValue | None:
        answer = self.answer(name)
        return answer.value if answer else None

    def looked(self, item: Item) -> Examination | None:
        """The examination, when it covers that item."""
        return self.examination if self.examination and item in self.examination.looked_at else None

    def wait_from(self, day: date) -> date:
        """The first day on which the rule's waiting time has passed; without one, that day itself."""
        return self.rule.clears.over_on(day)

    def in_field(self, teeth: tuple[str, ...]) -> tuple[str, ...]:
        """Teeth of the planned arches, also those left out: what is ill beside the gel is not out of its reach."""
        plan = self.plan
        return teeth if plan is None else tuple(number for number in teeth if plan.on_planned_arch(number))


Predicate = Callable[[Seen], Reading]
PREDICATES: dict[str, Predicate] = {}


def fires(code: str) -> Callable[[Predicate], Predicate]:
    """Ties a function to the row of that code; one row, one function."""

    def tie(predicate: Predicate) -> Predicate:
        if code in PREDICATES:
            raise ValueError(f"{code} has two functions")
        PREDICATES[code] = predicate
        return predicate

    return tie


# A basis carries the instant, so that the same answer given again later is a new matter to decide.
def based_on(name: str, answer: Answer) -> str:
    return f"{name}={answer.value}@{answer.given_at.isoformat()}"


def examined_as(item: Item, examination: Examination, teeth: tuple[str, ...] = ()) -> str:
    return f"{item}:{','.join(teeth)}@{examination.examined_at.isoformat()}"


def not_asked(name: str) -> Open:
    """What is asked face to face waits for the clinician, not for the patient."""
    private = questionnaire().question(name).private
    return Open(AnsweredBy.CLINICIAN if private else AnsweredBy.PATIENT)


def _not_before(seen: Seen, day: date) -> date | None:
    return seen.wait_from(day) if seen.rule.clears.waits else None


def said(seen: Seen, name: str) -> Reading:
    """The patient's own yes, or not being sure, is enough."""
    return chosen(seen, name, *POSITIVE)


def chosen(seen: Seen, name: str, *wanted: str | int) -> Reading:
    """One of these answers is enough. One that is kept for a talk at the practice is none yet."""
    answer = seen.answer(name)
    if answer is None:
        return not_asked(name)
    if answer.value == IN_PRIVATE:
        return Open(AnsweredBy.CLINICIAN)
    if answer.value not in wanted:
        return ABSENT
    return Present(based_on(name, answer), not_before=_not_before(seen, answer.given_on))


def picked(seen: Seen, name: str, *wanted: str) -> Reading:
    """Of a page with several things to tick: one of these, or not being sure about the page."""
    answer = seen.answer(name)
    if answer is None:
        return not_asked(name)
    ticked = answer.value if isinstance(answer.value, tuple) else ()
    hit = [one for one in ticked if one in wanted or one in POSITIVE]
    if not hit:
        return ABSENT
    basis = f"{name}={','.join(hit)}@{answer.given_at.isoformat()}"
    return Present(basis, not_before=_not_before(seen, answer.given_on))


def found(seen: Seen, *, item: Item, present: bool, teeth: tuple[str, ...] = ()) -> Reading:
    """What the examination says about one item."""
    examination = seen.looked(item)
    if examination is None:
        return Open(AnsweredBy.CLINICIAN)
    if not present:
        return ABSENT
    return Present(examined_as(item, examination, teeth), teeth, not_before=_not_before(seen, examination.examined_on))


def on_teeth(seen: Seen, *, item: Item, trouble: Trouble) -> Reading:
    """What the examination says about single teeth of the field."""
    teeth = seen.in_field(seen.examination.with_trouble(trouble)) if seen.examination else ()
    return found(seen, item=item, present=bool(teeth), teeth=teeth)


def said_then_found(seen: Seen, *, name: str, item: Item, present: bool, teeth: tuple[str, ...] = ()) -> Reading:
    """The patient's word raises it, the examination settles it, unless the word is the newer of the two."""
    # 1. What was seen is there, whatever was said.
    looked = found(seen, item=item, present=present, teeth=teeth)
    if isinstance(looked, Present):
        return looked
    # 2. Not seen and not said, or not asked: open if either is open.
    told = said(seen, name)
    if not isinstance(told, Present):
        return told if isinstance(told, Open) else looked
    # 3. Said, and looked for afterwards without finding it.
    answer, examination = seen.answers.given[name], seen.looked(item)
    if examination and _covers(examination, answer.given_at):
        return replace(told, examined=True)
    return told


def until(seen: Seen, name: str) -> Reading:
    """A waiting time whose end is the event itself, counted from a day that the patient named."""
    answer = seen.answer(name)
    if answer is None or not isinstance(answer.value, date):
        return not_asked(name)
    over_on = seen.wait_from(answer.value)
    return Present(based_on(name, answer), not_before=over_on) if seen.today < over_on else ABSENT


def healed_since(seen: Seen, told: Reading, *, item: Item, still: bool) -> Reading:
    """Waiting is not enough and neither is an early look: somebody looks once the pause is over."""
    examination = seen.looked(item)
    if not isinstance(told, Present) or told.not_before is None or examination is None or still:
        return told
    return replace(told, examined=True) if examination.examined_on >= told.not_before else told


def _covers(examination: Examination, given_at: datetime) -> bool:
    return examination.examined_at >= given_at


def first_of(*readings: Reading) -> Reading:
    """Present before open before absent: of several ways to a finding the worst one counts."""
    for kind in (Present, Open):
        for reading in readings:
            if isinstance(reading, kind):
                return reading
    return ABSENT
