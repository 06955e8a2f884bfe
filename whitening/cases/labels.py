"""What a product's label says, and the strength as used that follows from it. Nothing is filled in by guessing."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.utils.translation import gettext_lazy as _

from clinic.trail.refusals import Refusal
from whitening.cases.models import Basis, Peroxide, ProductKind
from whitening.cases.peroxide import Mix, Strength, strength_as_used

# Two decimals are kept; the working beside them shows the figure that was rounded.
KEPT = Decimal("0.01")
# Where the plan's own bound lies: no professional gel that we know of is stronger (from memory, unverified).
STRONGEST_PERCENT = Decimal(50)


class LabelRefused(Refusal):
    """field: where on the form the reader can put it right."""

    code = "cases.label_refused"
    field = "label_percent"


class PeroxideMissing(LabelRefused):
    code = "cases.peroxide_missing"
    field = "peroxide"
    sentence = _("A whitening gel works by a peroxide. Say which one the label names.")


class StrengthMissing(LabelRefused):
    code = "cases.strength_missing"
    sentence = _("Copy the % from the label. Without it nobody can tell how strong this is.")


class StrengthWithoutPeroxide(LabelRefused):
    code = "cases.strength_without_peroxide"
    field = "peroxide"
    sentence = _("There is a % but no peroxide. Say which peroxide it is the % of, or clear it.")


class BasisMissing(LabelRefused):
    code = "cases.basis_missing"
    field = "label_basis"
    sentence = _(
        "A % is no strength until it is known of what. See on the label or ask the maker whether it holds "
        "as used or before mixing; it is not assumed here."
    )


class NotMixed(LabelRefused):
    code = "cases.not_mixed"
    field = "needs_mixing"
    sentence = _("Mixing is described below, but not ticked. Tick it, or clear what is said about mixing.")


class PartsMissing(LabelRefused):
    code = "cases.parts_missing"
    field = "mix_parts"
    sentence = _("The label's % holds before mixing. Say how many parts of each go together; it is not assumed here.")


class DensityMissing(LabelRefused):
    code = "cases.density_missing"
    field = "mix_density_g_ml"
    sentence = _("Parts by volume need the density of both parts. Fill in both, or clear both for parts by mass.")


class StrengthOutOfRange(LabelRefused):
    code = "cases.strength_out_of_range"
    sentence = _(
        "That comes to %(percent)s %% hydrogen peroxide as used. Whitening is planned with more than 0 and at most "
        "%(most)s %%: look at the label again."
    )


class LimitMissing(LabelRefused):
    """Which limit, the field says."""

    code = "cases.limit_missing"
    sentence = _("The maker's instructions name it for every gel. Fill it in; the chairside stops offering there.")

    def __init__(self, field: str) -> None:
        super().__init__()
        self.field = field


class MixLifeMissing(LabelRefused):
    code = "cases.mix_life_missing"
    field = "mix_life_minutes"
    sentence = _("A mix is thrown away when its time is up. Say after how many minutes.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    kind: str
    peroxide: str
    label_percent: Decimal | None = None
    label_basis: str = Basis.NONE
    needs_mixing: bool = False
    mix_parts: Decimal | None = None
    mix_other_parts: Decimal | None = None
    mix_density_g_ml: Decimal | None = None
    mix_other_density_g_ml: Decimal | None = None

    @property
    def mix(self) -> Mix | None:
        if self.mix_parts is None or self.mix_other_parts is None:
            return None
        return Mix(self.mix_parts, self.mix_other_parts, self.mix_density_g_ml, self.mix_other_density_g_ml)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductDetails(Label):
    """What a manager says about a product. Field names are those of the table."""

    name: str
    mix_life_minutes: int | None = None
    cycle_minutes_most: int | None = None
    cycles_most: int | None = None
    light_allowed: bool = False
    instructions_revision: str = ""
    active: bool = True


def strength_of(label: Label) -> Strength | None:
    """Hydrogen peroxide as used with its working, none where there is no peroxide. Raises a LabelRefused."""
    if label.peroxide == Peroxide.NONE:
        _check_no_peroxide(label)
        return None
    if label.label_percent is None:
        raise StrengthMissing
    if label.label_basis not in {Basis.AS_USED, Basis.BEFORE_MIXING}:
        raise BasisMissing
    _check_mixing(label)
    strength = strength_as_used(
        peroxide=label.peroxide, label_percent=label.label_percent, basis=label.label_basis, mix=label.mix
    )
    kept = Strength(strength.hp_percent.quantize(KEPT, ROUND_HALF_UP), strength.working)
    if label.kind == ProductKind.GEL and not 0 < kept.hp_percent <= STRONGEST_PERCENT:
        raise StrengthOutOfRange(percent=kept.hp_percent, most=STRONGEST_PERCENT)
    return kept


def open_limits(details: ProductDetails) -> Iterator[LabelRefused]:
    """What is still to be said of the times that the chairside counts against, all of it at once."""
    if details.kind == ProductKind.GEL:
        for field in ("cycle_minutes_most", "cycles_most"):
            if getattr(details, field) is None:
                yield LimitMissing(field)
    if details.needs_mixing and details.mix_life_minutes is None:
        yield MixLifeMissing()
    if not details.needs_mixing and details.mix_life_minutes is not None:
        yield NotMixed()


def _check_no_peroxide(label: Label) -> None:
    if label.label_percent is not None:
        raise StrengthWithoutPeroxide
    if label.kind == ProductKind.GEL:
        raise PeroxideMissing
    _check_mixing(label)


def _check_mixing(label: Label) -> None:
    parts = (label.mix_parts, label.mix_other_parts)
    densities = (label.mix_density_g_ml, label.mix_other_density_g_ml)
    before_mixing = label.label_basis == Basis.BEFORE_MIXING
    described = before_mixing or any(value is not None for value in (*parts, *densities))
    if not described:
        return
    if not label.needs_mixing:
        raise NotMixed
    if None in parts:
        raise PartsMissing
    # One density alone is a slip, not a mix by mass.
    if (densities[0] is None) != (densities[1] is None):
        raise DensityMissing
