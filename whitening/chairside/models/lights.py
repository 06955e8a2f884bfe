"""Curing and whitening lights: what the maker allows, and what was measured."""

from datetime import date
from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class LightUnitQuerySet(models.QuerySet["LightUnit"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(resource__site__memberships__user=user).distinct()

    def in_use(self) -> Self:
        return self.filter(resource__active=True, out_of_use_since=None)


class LightUnit(models.Model):
    """The device behind a light of the diary. Its kind is the resource's: one fact, one place."""

    resource = models.OneToOneField("clinic_diary.Resource", on_delete=models.PROTECT, related_name="light_unit")
    serial = models.CharField(_("serial number"), max_length=60, blank=True)
    output_least_mw_cm2 = models.PositiveIntegerField(_("least output, mW/cm²"))
    output_most_mw_cm2 = models.PositiveIntegerField(_("most output, mW/cm²"))
    probe_distance_mm = models.PositiveSmallIntegerField(_("distance of the probe, mm"))
    service_due_on = models.DateField(_("service due"), null=True, blank=True)
    out_of_use_since = models.DateField(_("out of use since"), null=True, blank=True)
    heat_warning = models.CharField(_("heat warning"), max_length=200, blank=True)

    objects = LightUnitQuerySet.as_manager()

    class Meta:
        ordering = ["resource__name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(output_most_mw_cm2__gte=models.F("output_least_mw_cm2")),
                name="light_output_range_in_order",
            ),
            models.CheckConstraint(condition=models.Q(output_least_mw_cm2__gte=1), name="light_output_positive"),
        ]

    def __str__(self) -> str:
        return self.resource.name

    @property
    def kind(self) -> str:
        return self.resource.light_kind

    def serviced(self, day: date) -> bool:
        return self.service_due_on is None or self.service_due_on >= day


class LightCheck(models.Model):
    """Append-only: one measurement of the output at the unit's distance."""

    unit = models.ForeignKey(LightUnit, on_delete=models.PROTECT, related_name="checks")
    checked_at = models.DateTimeField()
    # The day at the site.
    checked_on = models.DateField()
    checked_by = models.CharField(max_length=120)
    output_mw_cm2 = models.PositiveIntegerField(_("measured output, mW/cm²"))
    distance_mm = models.PositiveSmallIntegerField(_("distance, mm"))
    passed = models.BooleanField()

    class Meta:
        ordering = ["checked_at", "pk"]

    def __str__(self) -> str:
        return f"{self.output_mw_cm2} mW/cm²"
