"""Shade readings: one tab of a named guide at one moment. Readings of different guides never mix."""

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _


class Moment(models.TextChoices):
    EXAMINATION = "examination", _("at the examination")
    START = "start", _("before a session")
    FINISH = "finish", _("after a session")
    REVIEW = "review", _("at the review")


class ShadeReadingQuerySet(models.QuerySet["ShadeReading"]):
    def standing(self) -> Self:
        """Without those that a late entry of their session has corrected."""
        return self.filter(correction=None)


class ShadeReading(models.Model):
    """Append-only. A reading on dry teeth is provisional and never feeds results."""

    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="shades")
    moment = models.CharField(max_length=12, choices=Moment)
    guide = models.CharField(max_length=24)
    tab = models.CharField(max_length=8)
    provisional = models.BooleanField()
    read_at = models.DateTimeField()
    read_by = models.CharField(max_length=120)
    session_number = models.PositiveSmallIntegerField(null=True, blank=True)

    objects = ShadeReadingQuerySet.as_manager()

    class Meta:
        ordering = ["read_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(moment__in=Moment.values), name="shade_moment_known"),
            # Teeth dry out during a session: a reading right after it can never be final.
            models.CheckConstraint(
                condition=~models.Q(moment=Moment.FINISH) | models.Q(provisional=True), name="shade_finish_provisional"
            ),
        ]

    def __str__(self) -> str:
        return self.tab


class ShadeCorrection(models.Model):
    """What was tapped before the closing of a session and came in after it says otherwise. Append-only."""

    reading = models.OneToOneField(ShadeReading, on_delete=models.PROTECT, related_name="correction")
    corrected_at = models.DateTimeField()
    corrected_by = models.CharField(max_length=120)

    def __str__(self) -> str:
        return f"correction of {self.reading_id}"
