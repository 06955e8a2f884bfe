"""Peroxide arithmetic: label, basis, mixing. Every result carries its working as sentences.

A per cent figure means nothing without its basis, so no basis is ever assumed. What the law tests is
the strength as used that the label or the maker states; the arithmetic here is the check beside it.
"""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

# g/mol, abridged standard atomic weights (IUPAC; figures as in the published table of 2013, from memory).
HYDROGEN = Decimal("1.008")
CARBON = Decimal("12.011")
NITROGEN = Decimal("14.007")
OXYGEN = Decimal("15.999")

HYDROGEN_PEROXIDE = 2 * HYDROGEN + 2 * OXYGEN
UREA = CARBON + 4 * HYDROGEN + 2 * NITROGEN + OXYGEN
# Carbamide peroxide is the 1:1 adduct of the two.
CARBAMIDE_PEROXIDE = HYDROGEN_PEROXIDE + UREA
HP_PER_CARBAMIDE = HYDROGEN_PEROXIDE / CARBAMIDE_PEROXIDE

Words = StrOrPromise
HUNDRED = Decimal(100)


class StrengthUnknown(ValueError):
    """What is known does not add up to a strength as used."""


@dataclass(frozen=True, slots=True)
class Mix:
    """What is stirred together at the chair. Densities are given when the parts are volumes, else None."""

    parts: Decimal
    other_parts: Decimal
    density_g_ml: Decimal | None = None
    other_density_g_ml: Decimal | None = None

    @property
    def by_volume(self) -> bool:
        return self.density_g_ml is not None or self.other_density_g_ml is not None


@dataclass(frozen=True, slots=True)
class Strength:
    """Hydrogen peroxide as used, % w/w, and how it was reached."""

    hp_percent: Decimal
    working: tuple[Words, ...]


# 10 % carbamide peroxide holds 3.62 % hydrogen peroxide; the "3.5 %" and "3 to 1" of the trade are looser.
def hp_from_carbamide(percent: Decimal) -> Decimal:
    return _percent(percent) * HP_PER_CARBAMIDE


def carbamide_from_hp(percent: Decimal) -> Decimal:
    return _percent(percent) / HP_PER_CARBAMIDE


def mix_by_mass(
    *, percent: Decimal, parts: Decimal, other_parts: Decimal, other_percent: Decimal = Decimal(0)
) -> Decimal:
    """Mass balance: w = (m1 w1 + m2 w2) / (m1 + m2)."""
    if parts <= 0 or other_parts < 0:
        raise StrengthUnknown("the peroxide part must be more than nothing, the other not less than nothing")
    # What dissolves keeps its mass; volumes would not add up.
    whole = parts * _percent(percent) + other_parts * _percent(other_percent)
    return whole / (parts + other_parts)


def mix_by_volume(
    *,
    percent: Decimal,
    parts: Decimal,
    density_g_ml: Decimal,
    other_parts: Decimal,
    other_density_g_ml: Decimal,
    other_percent: Decimal = Decimal(0),
) -> Decimal:
    """Drops and millilitres become masses first: equal volumes of unequal liquids are not equal parts."""
    if density_g_ml <= 0 or other_density_g_ml <= 0:
        raise StrengthUnknown("a density must be more than nothing")
    return mix_by_mass(
        percent=percent,
        parts=parts * density_g_ml,
        other_parts=other_parts * other_density_g_ml,
        other_percent=other_percent,
    )


def strength_as_used(*, peroxide: str, label_percent: Decimal, basis: str, mix: Mix | None = None) -> Strength:
    """From the label to hydrogen peroxide as used.

    `peroxide` is hydrogen or carbamide, `basis` as_used or before_mixing.
    """
    percent, working = _released(peroxide=peroxide, label_percent=label_percent)
    if basis == "as_used":
        return Strength(percent, (*working, _("The label states the strength as used.")))
    if basis != "before_mixing":
        raise StrengthUnknown(f"unknown basis: {basis}")
    if mix is None:
        raise StrengthUnknown("the label states the strength before mixing, and no mix is given")
    mixed, mixing = _mixed(percent=percent, mix=mix)
    return Strength(mixed, (*working, mixing))


def _released(*, peroxide: str, label_percent: Decimal) -> tuple[Decimal, tuple[Words, ...]]:
    if peroxide == "hydrogen":
        return _percent(label_percent), ()
    if peroxide != "carbamide":
        raise StrengthUnknown(f"unknown peroxide: {peroxide}")
    released = hp_from_carbamide(label_percent)
    line = format_lazy(
        _("{label} % carbamide peroxide × {hp} ÷ {adduct} (molar masses) = {result} % hydrogen peroxide"),
        label=_shown(label_percent),
        hp=HYDROGEN_PEROXIDE,
        adduct=CARBAMIDE_PEROXIDE,
        result=_shown(released),
    )
    return released, (line,)


def _mixed(*, percent: Decimal, mix: Mix) -> tuple[Decimal, Words]:
    # One density alone is a mistake of the entry, not a mix by mass.
    if not mix.by_volume:
        result = mix_by_mass(percent=percent, parts=mix.parts, other_parts=mix.other_parts)
        sentence = _("{percent} % × {parts} ÷ ({parts} + {other}) parts by mass = {result} % as used")
        densities: dict[str, object] = {}
    else:
        if mix.density_g_ml is None or mix.other_density_g_ml is None:
            raise StrengthUnknown("mixing by volume needs the density of both parts")
        result = mix_by_volume(
            percent=percent,
            parts=mix.parts,
            density_g_ml=mix.density_g_ml,
            other_parts=mix.other_parts,
            other_density_g_ml=mix.other_density_g_ml,
        )
        sentence = _(
            "{percent} % × {parts} × {density} ÷ ({parts} × {density} + {other} × {other_density}), "
            "parts by volume × g/mL = {result} % as used"
        )
        densities = {"density": mix.density_g_ml, "other_density": mix.other_density_g_ml}
    numbers = {"percent": _shown(percent), "parts": mix.parts, "other": mix.other_parts, "result": _shown(result)}
    return result, format_lazy(sentence, **numbers, **densities)


def _percent(value: Decimal) -> Decimal:
    if not 0 <= value <= HUNDRED:
        raise StrengthUnknown("a strength lies between 0 and 100 %")
    return value


def _shown(value: Decimal) -> Decimal:
    """Two decimals on paper; the unrounded figure is what is calculated with."""
    return value.quantize(Decimal("0.01")).normalize() + 0 if value % 1 else value.quantize(Decimal(1))
