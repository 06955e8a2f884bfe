"""The plan: what exactly is going to be done. A changed plan is a new row with the next version."""

from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _


class PlannedLight(models.TextChoices):
    NONE = "none", _("no light")
    HAND_HELD = "hand_held", _("hand-held light, tooth by tooth")
    ARCH = "arch", _("arch light")


class Isolation(models.TextChoices):
    RESIN_BARRIER = "resin_barrier", _("light-cured gum barrier")
    RESIN_FREE = "resin_free", _("isolation without resin")


class Plan(models.Model):
    """Append-only. The plan in force is the one with the highest version."""

    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="plans")
    version = models.PositiveSmallIntegerField()
    upper_arch = models.BooleanField(_("upper arch"))
    lower_arch = models.BooleanField(_("lower arch"))
    # ISO 3950 tooth numbers as text, ascending.
    teeth_left_out = models.JSONField(_("teeth left out"), default=list, blank=True)
    sessions = models.PositiveSmallIntegerField(_("sessions"))
    cycles_per_session = models.PositiveSmallIntegerField(_("cycles in a session"))
    minutes_per_cycle = models.PositiveSmallIntegerField(_("minutes in a cycle"))
    least_days_between = models.PositiveSmallIntegerField(_("least days between sessions"))
    product = models.ForeignKey("whitening_cases.Product", on_delete=models.PROTECT, related_name="+")
    # Copied from the product on the day of planning, so that a later label never rewrites the plan.
    strength_hp_percent = models.DecimalField(_("hydrogen peroxide as used, % w/w"), max_digits=5, decimal_places=2)
    light = models.CharField(_("light"), max_length=12, choices=PlannedLight)
    isolation = models.CharField(_("isolation"), max_length=16, choices=Isolation, default=Isolation.RESIN_BARRIER)
    fee = models.DecimalField(_("fee"), max_digits=9, decimal_places=2)
    currency = models.CharField(max_length=3)
    expectation = models.CharField(_("what was said about the likely result"), max_length=500, blank=True)
    jurisdiction = models.CharField(max_length=16)
    # Of the local rule that the plan was judged by: the shipped row's, and after a point the practice's own.
    local_rule_version = models.CharField(max_length=20)
    planned_at = models.DateTimeField()
    planned_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")
    prescribed_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["case", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["case", "version"], name="plan_version_once"),
            models.CheckConstraint(
                condition=models.Q(upper_arch=True) | models.Q(lower_arch=True), name="plan_at_least_one_arch"
            ),
            models.CheckConstraint(
                condition=models.Q(cycles_per_session__gte=1) & models.Q(cycles_per_session__lte=6),
                name="plan_cycles_1_to_6",
            ),
            models.CheckConstraint(
                condition=models.Q(sessions__gte=1) & models.Q(sessions__lte=6), name="plan_sessions_1_to_6"
            ),
            models.CheckConstraint(
                condition=models.Q(strength_hp_percent__gt=0) & models.Q(strength_hp_percent__lte=50),
                name="plan_strength_0_to_50",
            ),
            models.CheckConstraint(condition=models.Q(fee__gte=0), name="plan_fee_not_negative"),
            models.CheckConstraint(condition=models.Q(minutes_per_cycle__gte=1), name="plan_minutes_at_least_1"),
        ]

    def __str__(self) -> str:
        return f"plan {self.version} of case {self.case_id}"

    @property
    def gel(self) -> str:
        """Its name and its strength, which many a name says already."""
        name, percent = self.product.name, f"{self.strength_hp_percent.normalize() + 0:f}"
        strength = gettext("%(percent)s %% hydrogen peroxide as used") % {"percent": percent}
        # The space before it: the end of "16 %" is no "6 %".
        gel = name if f" {strength}" in f" {name}" else f"{name}, {strength}"
        return gettext("%(gel)s (w/w)") % {"gel": gel}
