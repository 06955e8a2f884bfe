"""Gel or light touched somebody: what, and each thing that was done about it."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.choices import Place

if TYPE_CHECKING:
    from clinic.accounts.models import User


class IncidentQuerySet(models.QuerySet["Incident"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(session__site__memberships__user=user).distinct()


class Incident(models.Model):
    """Append-only. What became of it stands in its steps."""

    session = models.ForeignKey("whitening_chairside.Session", on_delete=models.PROTECT, related_name="incidents")
    # Its entry in the session's log.
    seq = models.PositiveIntegerField()
    place = models.CharField(max_length=8, choices=[(place.value, place.label) for place in Place])
    happened_at = models.DateTimeField()
    noted_by = models.CharField(max_length=120)

    objects = IncidentQuerySet.as_manager()

    class Meta:
        ordering = ["happened_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "seq"], name="incident_once_per_entry"),
            models.CheckConstraint(
                condition=models.Q(place__in=[place.value for place in Place]), name="incident_place_known"
            ),
        ]

    def __str__(self) -> str:
        return f"incident {self.pk}"


class StepKind(models.TextChoices):
    SETTLED = "settled", _("settled at the chair")
    REOPENED = "reopened", _("settling taken back")


class IncidentStep(models.Model):
    """Append-only."""

    incident = models.ForeignKey(Incident, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=12, choices=StepKind)
    # The code of what was done at the chair; words where somebody wrote some.
    action = models.CharField(max_length=16, blank=True)
    words = models.CharField(max_length=1000, blank=True)
    at = models.DateTimeField()
    by = models.CharField(max_length=120)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.CheckConstraint(condition=models.Q(kind__in=StepKind.values), name="incident_step_known")]

    def __str__(self) -> str:
        return self.get_kind_display()
