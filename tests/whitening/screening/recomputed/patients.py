"""Random patients in plain words: what they said, what was seen, what is planned. Knows nothing of the rules.

Only `as_product` speaks the program's own types, so that the same patient can be put before the program.
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from whitening.screening.examination import (
    Examination,
    Gums,
    Item,
    Look,
    Periodontitis,
    SoftTissue,
    ToothFinding,
    Trouble,
)
from whitening.screening.facts import Answers, AnswerValue, ConsentFacts, PatientFacts, PlanFacts
from whitening.screening.grades import Profession
from whitening.screening.jurisdictions import jurisdictions
from whitening.screening.questions import Kind, Question, questionnaire

TODAY = date(2026, 3, 3)
ANSWERED_AT = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
# A look after the answers can settle them; one before cannot.
LOOKED_AT = {True: datetime(2026, 3, 2, 9, 0, tzinfo=UTC), False: datetime(2026, 3, 1, 9, 0, tzinfo=UTC)}
FLAGS = ("inflamed", "active", "sore", "suspicious", "cold_sore", "cracked_lips", "defect", "grey", "light")
FLAGS_OF_DAY = ("adhesive_work_soon", "deposits")
TEETH = [f"{quarter}{place}" for quarter in (1, 2, 3, 4) for place in range(1, 6)]
LISTS = ((), ("naproxen",), ("isotretinoin",), ("something unheard of",))


@dataclass(frozen=True, kw_only=True)
class Planned:
    strength: Decimal
    light: bool
    resin: bool
    upper: bool
    lower: bool
    left_out: frozenset[str]
    operator: str | None
    prescribed: bool
    supervised: bool

    def in_field(self, number: str) -> bool:
        """Upper teeth have a first digit of 1, 2, 5 or 6 (ISO 3950)."""
        return self.upper if number[0] in "1256" else self.lower


@dataclass(frozen=True, kw_only=True)
class Looked:
    items: frozenset[str]
    newer: bool
    by_dentist: bool
    teeth: dict[str, frozenset[str]]
    milk: tuple[str, ...]
    flags: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class Person:
    birth_on: date
    place: str
    answers: dict[str, AnswerValue]
    looked: Looked | None
    planned: Planned | None
    # current, of an earlier plan, withdrawn, or nobody asked about it.
    consent: str | None = None
    plan_version: int = field(default=2)


def somebody(draw: Random) -> Person:
    """Most are nearly well, some have a lot: otherwise the worst grade alone would ever be compared."""
    trouble = draw.choice((0.01, 0.05, 0.3))
    return Person(
        birth_on=TODAY - timedelta(days=draw.choice((5_000, 6_573, 6_574, 6_575, 7_000, 15_000, 15_000))),
        place=draw.choice(("UK", "EU", "US", "IE", "CH", "JP")),
        answers=_answers(draw, trouble),
        looked=None if draw.random() < 0.05 else _looked(draw, trouble),
        planned=None if draw.random() < 0.05 else _planned(draw, trouble),
        consent=draw.choice(("current", "current", "current", "earlier", "withdrawn", None)),
    )


def _answers(draw: Random, trouble: float) -> dict[str, AnswerValue]:
    said: dict[str, AnswerValue] = {}
    for question in questionnaire().questions:
        if not question.applies(said) or draw.random() < trouble / 10:
            continue
        said[question.id] = _worse(question, draw) if draw.random() < trouble else _well(question, draw)
    return said


def _well(question: Question, draw: Random) -> AnswerValue:
    match question.kind:
        case Kind.SEVERAL | Kind.LIST:
            return ()
        case Kind.NUMBER:
            return 0
        case Kind.DATE:
            return TODAY - timedelta(days=draw.randrange(200, 400))
        case _:
            offered = [value for value, _words in question.choices]
            return "no" if "no" in offered else draw.choice(offered)


def _worse(question: Question, draw: Random) -> AnswerValue:
    offered = [value for value, _words in question.choices]
    match question.kind:
        case Kind.SEVERAL:
            return tuple(draw.sample(offered, draw.randint(1, 2)))
        case Kind.LIST:
            return draw.choice(LISTS)
        case Kind.NUMBER:
            return draw.randint(0, 10)
        case Kind.DATE:
            return TODAY - timedelta(days=draw.randrange(2, 200))
        case _:
            return draw.choice(offered)


def _looked(draw: Random, trouble: float) -> Looked:
    there = [number for number in TEETH if draw.random() < trouble / 5]
    return Looked(
        items=frozenset(str(item) for item in Item if draw.random() >= trouble / 10),
        newer=draw.random() < 0.8,
        by_dentist=draw.random() >= trouble / 10,
        teeth={number: frozenset({str(draw.choice(list(Trouble)))}) for number in there},
        milk=("55",) if draw.random() < trouble / 5 else (),
        flags=frozenset(flag for flag in (*FLAGS, *FLAGS_OF_DAY) if draw.random() < trouble),
    )


def _planned(draw: Random, trouble: float) -> Planned:
    upper = draw.random() < 0.9
    return Planned(
        strength=draw.choice((Decimal(6), Decimal(6), Decimal("5.99"), Decimal("6.01"), Decimal(35))),
        light=draw.random() < 0.5,
        resin=draw.random() < 0.7,
        upper=upper,
        lower=not upper or draw.random() < 0.5,
        left_out=frozenset(number for number in TEETH if draw.random() < trouble),
        operator=draw.choice(("dentist", "dentist", "hygienist", "nurse", None)),
        prescribed=draw.random() < 0.5,
        supervised=draw.random() < 0.5,
    )


def as_product(person: Person) -> dict[str, Any]:
    """What the program's own evaluation is asked with."""
    plan = person.planned
    answers = Answers.on_day(version="1", values=person.answers, given_at=ANSWERED_AT, given_on=ANSWERED_AT.date())
    return {
        "answers": answers,
        "patient": PatientFacts(person.birth_on),
        "examination": _examination(person.looked) if person.looked else None,
        "plan": _plan(plan, person.plan_version) if plan else None,
        "consent": _consent(person),
        "jurisdiction": jurisdictions()[person.place],
        "decisions": (),
        "today": TODAY,
    }


def _examination(looked: Looked) -> Examination:
    at, flags = LOOKED_AT[looked.newer], looked.flags
    return Examination(
        examined_at=at,
        examined_on=at.date(),
        profession=Profession.DENTIST if looked.by_dentist else Profession.HYGIENIST,
        looked_at=frozenset(map(Item, looked.items)),
        teeth=tuple(ToothFinding(number, frozenset(map(Trouble, had))) for number, had in looked.teeth.items()),
        milk_teeth=looked.milk,
        gums=Gums("inflamed" in flags, Periodontitis.ACTIVE if "active" in flags else Periodontitis.STABLE),
        soft_tissue=SoftTissue(*(name in flags for name in ("sore", "suspicious", "cold_sore", "cracked_lips"))),
        look=Look(*(name in flags for name in ("defect", "grey", "light", "adhesive_work_soon"))),
        deposits="deposits" in flags,
    )


def _plan(plan: Planned, version: int) -> PlanFacts:
    return PlanFacts(
        version=version,
        strength_hp_percent=plan.strength,
        uses_light=plan.light,
        resin_barrier=plan.resin,
        upper=plan.upper,
        lower=plan.lower,
        left_out=plan.left_out,
        carried_out_by=Profession(plan.operator) if plan.operator else None,
        prescribed_by=Profession.DENTIST if plan.prescribed else None,
        supervised_by=Profession.DENTIST if plan.supervised else None,
    )


def _consent(person: Person) -> ConsentFacts | None:
    if person.consent is None:
        return None
    version = person.plan_version - (person.consent == "earlier")
    return ConsentFacts(signed_plan_version=version, withdrawn=person.consent == "withdrawn")
