"""Products that a plan can name, with the strength and its basis as the label states them."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from whitening.cases.peroxide import Mix

if TYPE_CHECKING:
    from clinic.accounts.models import User


class ProductKind(models.TextChoices):
    GEL = "gel", _("whitening gel")
    BARRIER = "barrier", _("gum barrier")
    DESENSITISER = "desensitiser", _("desensitiser")


class Peroxide(models.TextChoices):
    HYDROGEN = "hydrogen", _("hydrogen peroxide")
    CARBAMIDE = "carbamide", _("carbamide peroxide")
    NONE = "none", _("no peroxide")


class Basis(models.TextChoices):
    """A per cent figure without its basis is not a strength."""

    AS_USED = "as_used", _("as used, ready or after mixing")
    BEFORE_MIXING = "before_mixing", _("before mixing")
    NONE = "none", _("no peroxide")


class Product(models.Model):
    name = models.CharField(_("name"), max_length=120, unique=True)
    kind = models.CharField(_("kind"), max_length=12, choices=ProductKind)
    peroxide = models.CharField(_("peroxide"), max_length=10, choices=Peroxide)
    label_percent = models.DecimalField(_("% on the label"), max_digits=5, decimal_places=2, null=True, blank=True)
    label_basis = models.CharField(_("the label's % is"), max_length=16, choices=Basis)
    hp_percent_as_used = models.DecimalField(
        _("hydrogen peroxide as used, % w/w"), max_digits=5, decimal_places=2, null=True, blank=True
    )
    needs_mixing = models.BooleanField(_("is mixed at the chair"), default=False)
    mix_parts = models.DecimalField(_("parts of the peroxide"), max_digits=6, decimal_places=2, null=True, blank=True)
    mix_other_parts = models.DecimalField(
        _("parts of what is mixed in"), max_digits=6, decimal_places=2, null=True, blank=True
    )
    # Only where the parts are volumes: equal volumes of unequal liquids are not equal parts.
    mix_density_g_ml = models.DecimalField(
        _("density of the peroxide part, g/mL"), max_digits=5, decimal_places=3, null=True, blank=True
    )
    mix_other_density_g_ml = models.DecimalField(
        _("density of what is mixed in, g/mL"), max_digits=5, decimal_places=3, null=True, blank=True
    )
    mix_life_minutes = models.PositiveSmallIntegerField(_("use within, minutes after mixing"), null=True, blank=True)
    cycle_minutes_most = models.PositiveSmallIntegerField(
        _("longest time on the teeth, minutes"), null=True, blank=True
    )
    cycles_most = models.PositiveSmallIntegerField(_("most cycles in one session"), null=True, blank=True)
    light_allowed = models.BooleanField(_("the maker allows a light"), default=False)
    instructions_revision = models.CharField(_("maker's instructions, revision"), max_length=60, blank=True)
    active = models.BooleanField(_("in use"), default=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["kind", "name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(kind=ProductKind.GEL)
                | models.Q(hp_percent_as_used__gt=0, cycle_minutes_most__gte=1, cycles_most__gte=1),
                name="product_gel_is_complete",
            ),
            models.CheckConstraint(
                condition=models.Q(needs_mixing=False) | models.Q(mix_life_minutes__gte=1),
                name="product_mix_has_a_life",
            ),
            models.CheckConstraint(
                condition=~models.Q(label_basis=Basis.BEFORE_MIXING)
                | models.Q(needs_mixing=True, mix_parts__gt=0, mix_other_parts__gte=0),
                name="product_mix_has_its_parts",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def mix(self) -> Mix | None:
        if self.mix_parts is None or self.mix_other_parts is None:
            return None
        return Mix(self.mix_parts, self.mix_other_parts, self.mix_density_g_ml, self.mix_other_density_g_ml)


class PriceQuerySet(models.QuerySet["Price"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()


class Price(models.Model):
    """What one course costs at a site; the plan copies it and may differ."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.CASCADE, related_name="prices")
    name = models.CharField(_("what is charged for"), max_length=120)
    sessions = models.PositiveSmallIntegerField(_("sessions"), default=1)
    amount = models.DecimalField(_("amount"), max_digits=9, decimal_places=2)
    active = models.BooleanField(_("in use"), default=True)
    version = models.PositiveIntegerField(default=1)

    objects = PriceQuerySet.as_manager()

    class Meta:
        ordering = ["site", "sessions", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="price_name_once"),
            models.CheckConstraint(condition=models.Q(amount__gte=0), name="price_not_negative"),
        ]

    def __str__(self) -> str:
        return self.name
