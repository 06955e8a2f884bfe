"""A local rule in words, line by line: what holds, where from, and what the program's row says beside it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from whitening.screening.grades import Profession, Quality
from whitening.screening.jurisdictions import LAW, LOCAL, Jurisdiction
from whitening.screening.own_rules import BONDS
from whitening.screening.verdicts import shown_percent
from whitening.screening.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleLine:
    """source: only where it is another than the row's. shipped: what the program's own row says, where it differs."""

    title: Words
    says: Words
    source: str
    quality: Quality
    shipped: Words = ""


# Title, the columns that it is made of, and how it is said.
Said = tuple[Words, tuple[str, ...], Callable[[Jurisdiction], Words]]


def lines_of(place: Jurisdiction, *, shipped: Jurisdiction) -> list[RuleLine]:
    """shipped: the row of the program that the practice's own was written over."""
    return [_line(each, place, shipped) for each in _LINES]


def _line(each: Said, place: Jurisdiction, shipped: Jurisdiction) -> RuleLine:
    title, columns, said = each
    own = place.own
    if own is None or not own.values.keys() & set(columns):
        source = place.cycles_source if columns == _OF_CYCLES else ""
        return RuleLine(title=title, says=said(place), source=source, quality=place.quality)
    return RuleLine(title=title, says=said(place), source=own.source, quality=own.quality, shipped=said(shipped))


def strength_words(place: Jurisdiction) -> Words:
    if place.hp_cap_percent is None:
        return _("No limit was found. The maker's instructions and the dentist decide.")
    words = _("At most {cap} % hydrogen peroxide ({basis}).")
    return format_lazy(words, cap=shown_percent(place.hp_cap_percent), basis=place.cap_basis)


def _strength(place: Jurisdiction) -> Words:
    pair: Decimal | None = place.carbamide_pair_percent
    if pair is None:
        return strength_words(place)
    words = _("{limit} The authority pairs it with {pair} % carbamide peroxide; nothing is computed from that.")
    return format_lazy(words, limit=strength_words(place), pair=shown_percent(pair))


def age_words(place: Jurisdiction) -> Words:
    if place.age_basis == LAW:
        return format_lazy(_("{age} and over, by law."), age=place.min_age)
    if place.law_age is not None:
        words = _("{age} and over, by policy; the law sets {law}.")
        return format_lazy(words, age=place.min_age, law=place.law_age)
    return format_lazy(_("{age} and over, by policy; no age was found in law."), age=place.min_age)


def _who(place: Jurisdiction) -> Words:
    words = {
        "may_carry_out": _("On their own: {people}."),
        "on_prescription": _("On prescription: {people}."),
        "under_supervision": _("Under supervision: {people}."),
    }
    held = [(words[name], getattr(place, name)) for name in BONDS if getattr(place, name)]
    return _joined(" ", [format_lazy(sentence, people=_people(found)) for sentence, found in held])


def _people(professions: Iterable[Profession]) -> Words:
    held = set(professions)
    if not held:
        return _("nobody")
    return _joined(", ", [one.label for one in Profession if one in held])


def _joined(between: str, parts: list[Words]) -> Words:
    return format_lazy(between.join("{}" for _part in parts), *parts)


def _examination(place: Jurisdiction) -> Words:
    if place.exam_basis == LOCAL:
        return _("In every course, before the first session: the local rules ask for it.")
    return _("In every course, before the first session: this program asks for it; no local rule was found.")


def _days(place: Jurisdiction) -> Words:
    days = place.cooling_off_days
    if not days:
        return _("No days between talk and signature are asked for.")
    words = ngettext(
        "{days} day between the talk and the signature.", "{days} days between the talk and the signature.", days
    )
    return format_lazy(words, days=days)


def _cycles(place: Jurisdiction) -> Words:
    if place.clinician_in_cycles:
        return _("A clinician stays with the patient.")
    return _("No rule was found that a clinician stays. Nobody is left alone with gel or light, whatever the place.")


def _note(place: Jurisdiction) -> Words:
    return place.note or "–"


_OF_CYCLES: Final = ("clinician_in_cycles",)
_LINES: Final[tuple[Said, ...]] = (
    (_("Strength as used"), ("hp_cap_percent", "cap_basis", "carbamide_pair_percent"), _strength),
    (_("Age"), ("min_age", "age_basis"), age_words),
    (_("Who may carry it out"), BONDS, _who),
    (_("Who may examine and plan"), ("may_examine",), lambda place: _people(place.may_examine)),
    (_("Who may prescribe"), ("may_prescribe",), lambda place: _people(place.may_prescribe)),
    (_("Examination"), ("exam_basis",), _examination),
    (_("Days to think"), ("cooling_off_days",), _days),
    (_("Through the cycles"), _OF_CYCLES, _cycles),
    (_("Text"), ("instrument",), lambda place: place.instrument),
    (_("Note"), ("note",), _note),
)
