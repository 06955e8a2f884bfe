"""What the examination found. An item that was not looked at is unanswered, not free of findings."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from django.utils.translation import gettext_lazy as _

from whitening.screening.grades import Profession
from whitening.screening.teeth import tooth
from whitening.screening.words import Words


class Item(StrEnum):
    DECAY = "decay"
    RESTORATIONS = "restorations"
    CRACKS = "cracks"
    DENTINE = "dentine"
    PULP = "pulp"
    ENAMEL = "enamel"
    COLOUR = "colour"
    MILK_TEETH = "milk_teeth"
    GUMS = "gums"
    SOFT_TISSUE = "soft_tissue"
    LIPS = "lips"
    DEPOSITS = "deposits"
    MEDICINES = "medicines"

    @property
    def label(self) -> Words:
        return ITEM_LABELS[self]


ITEM_LABELS: dict[Item, Words] = {
    Item.DECAY: _("Decay"),
    Item.RESTORATIONS: _("Fillings and crowns: whole, and when placed"),
    Item.CRACKS: _("Cracks and fractures"),
    Item.DENTINE: _("Bare dentine and roots"),
    Item.PULP: _("Pulp and root tips"),
    Item.ENAMEL: _("Enamel: flecks, and whether it formed well"),
    Item.COLOUR: _("Colour before treatment, single dark teeth"),
    Item.MILK_TEETH: _("Milk teeth"),
    Item.GUMS: _("Gums"),
    Item.SOFT_TISSUE: _("Tongue, cheeks and palate"),
    Item.LIPS: _("Lips and corners of the mouth"),
    Item.DEPOSITS: _("Stain and calculus"),
    Item.MEDICINES: _("List of medicines read"),
}


class Trouble(StrEnum):
    """What one tooth can have; a tooth may have several."""

    DECAY = "decay"
    FAULTY_RESTORATION = "faulty_restoration"
    PAINFUL_CRACK = "painful_crack"
    # Which of the two is the examiner's judgement: can the barrier cover it here?
    BARE_DENTINE = "bare_dentine"
    BARE_DENTINE_NOT_COVERABLE = "bare_dentine_not_coverable"
    SICK_PULP = "sick_pulp"
    # What will look otherwise afterwards, or needs a hand at the chair.
    SHOWS_RESTORATION = "shows_restoration"
    ACRYLIC = "acrylic"
    AMALGAM = "amalgam"
    CRAZE_LINES = "craze_lines"
    DARK_TOOTH = "dark_tooth"
    FLECKS = "flecks"

    @property
    def label(self) -> Words:
        return TROUBLE_LABELS[self]


TROUBLE_LABELS: dict[Trouble, Words] = {
    Trouble.DECAY: _("untreated decay"),
    Trouble.FAULTY_RESTORATION: _("leaking, broken or lost filling"),
    Trouble.PAINFUL_CRACK: _("crack or fracture that hurts"),
    Trouble.BARE_DENTINE: _("bare dentine, can be covered"),
    Trouble.BARE_DENTINE_NOT_COVERABLE: _("bare dentine, cannot be covered"),
    Trouble.SICK_PULP: _("inflamed pulp or disease at the root tip"),
    Trouble.SHOWS_RESTORATION: _("crown, veneer, bridge, implant or filling that shows"),
    Trouble.ACRYLIC: _("temporary crown of acrylic"),
    Trouble.AMALGAM: _("amalgam"),
    Trouble.CRAZE_LINES: _("fine cracks that do not hurt"),
    Trouble.DARK_TOOTH: _("darker than its neighbours, or root-treated"),
    Trouble.FLECKS: _("white or brown flecks"),
}
# Treated with the others they would hurt or go wrong: a new plan starts without them. The others are ill first, or
# only look otherwise afterwards.
LEFT_OUT = frozenset({Trouble.PAINFUL_CRACK, Trouble.BARE_DENTINE_NOT_COVERABLE, Trouble.DARK_TOOTH})


class Periodontitis(StrEnum):
    NONE = "none"
    STABLE = "stable"
    ACTIVE = "active"

    @property
    def label(self) -> Words:
        return PERIODONTITIS_LABELS[self]


PERIODONTITIS_LABELS: dict[Periodontitis, Words] = {
    Periodontitis.NONE: _("none"),
    Periodontitis.STABLE: _("treated and stable"),
    Periodontitis.ACTIVE: _("untreated or active"),
}


@dataclass(frozen=True, slots=True)
class ToothFinding:
    """One adult tooth. `restored_on` is the day on which its newest filling or crown was placed."""

    number: str
    troubles: frozenset[Trouble] = frozenset()
    restored_on: date | None = None

    def __post_init__(self) -> None:
        if tooth(self.number).milk:
            raise ValueError(f"{self.number} is a milk tooth: list it under milk_teeth")


@dataclass(frozen=True, slots=True)
class Gums:
    inflamed: bool = False
    periodontitis: Periodontitis = Periodontitis.NONE


@dataclass(frozen=True, slots=True)
class SoftTissue:
    # An ulcer heals; a suspicious patch is referred whatever it looks like in two weeks.
    sore: bool = False
    suspicious: bool = False
    cold_sore: bool = False
    cracked_lips: bool = False


@dataclass(frozen=True, slots=True)
class Look:
    """Of all teeth together, before anything is done."""

    defect: bool = False
    grey: bool = False
    # Already lighter than A2 in the order of value.
    light: bool = False
    adhesive_work_soon: bool = False


@dataclass(frozen=True, slots=True)
class Examination:
    """Belongs to one course; a new course starts with none."""

    examined_at: datetime
    examined_on: date
    profession: Profession
    looked_at: frozenset[Item]
    teeth: tuple[ToothFinding, ...] = ()
    milk_teeth: tuple[str, ...] = ()
    gums: Gums = field(default_factory=Gums)
    soft_tissue: SoftTissue = field(default_factory=SoftTissue)
    look: Look = field(default_factory=Look)
    deposits: bool = False
    # The last cleaning, when the examiner knows its day: from the practice's own record, or done just now.
    cleaned_on: date | None = None

    def with_trouble(self, trouble: Trouble) -> tuple[str, ...]:
        return tuple(finding.number for finding in self.teeth if trouble in finding.troubles)

    def troubles_of(self, number: str) -> tuple[Trouble, ...]:
        """In the order in which they are asked for."""
        found = next((finding.troubles for finding in self.teeth if finding.number == number), frozenset[Trouble]())
        return tuple(trouble for trouble in Trouble if trouble in found)

    def to_leave_out(self) -> tuple[str, ...]:
        """Teeth that a new plan starts without, in the order in which they were written down."""
        return tuple(finding.number for finding in self.teeth if finding.troubles & LEFT_OUT)


def to_data(examination: Examination) -> dict[str, Any]:
    """What was found, ready for a JSON column; who and when have columns of their own."""
    return {
        "looked_at": sorted(examination.looked_at),
        "teeth": [
            {
                "number": finding.number,
                "troubles": sorted(finding.troubles),
                "restored_on": finding.restored_on.isoformat() if finding.restored_on else None,
            }
            for finding in examination.teeth
        ],
        "milk_teeth": list(examination.milk_teeth),
        "gums": {"inflamed": examination.gums.inflamed, "periodontitis": str(examination.gums.periodontitis)},
        "soft_tissue": {
            "sore": examination.soft_tissue.sore,
            "suspicious": examination.soft_tissue.suspicious,
            "cold_sore": examination.soft_tissue.cold_sore,
            "cracked_lips": examination.soft_tissue.cracked_lips,
        },
        "look": asdict(examination.look),
        "deposits": examination.deposits,
        "cleaned_on": examination.cleaned_on.isoformat() if examination.cleaned_on else None,
    }


def from_data(
    data: Mapping[str, Any], *, examined_at: datetime, examined_on: date, profession: Profession
) -> Examination:
    return Examination(
        examined_at=examined_at,
        examined_on=examined_on,
        profession=profession,
        looked_at=frozenset(Item(name) for name in data["looked_at"]),
        teeth=tuple(
            ToothFinding(
                number=row["number"],
                troubles=frozenset(Trouble(name) for name in row["troubles"]),
                restored_on=_day(row["restored_on"]),
            )
            for row in data["teeth"]
        ),
        milk_teeth=tuple(data["milk_teeth"]),
        gums=Gums(data["gums"]["inflamed"], Periodontitis(data["gums"]["periodontitis"])),
        soft_tissue=SoftTissue(**data["soft_tissue"]),
        look=Look(**data["look"]),
        deposits=data["deposits"],
        cleaned_on=_day(data["cleaned_on"]),
    )


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None
