"""When a resource works: weekly patterns in the site's wall-clock time, and closures as instants."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class WorkingPattern(models.Model):
    """Open from one wall-clock time to another on one weekday, from a date on (the upper end is open)."""

    resource = models.ForeignKey("clinic_diary.Resource", on_delete=models.CASCADE, related_name="patterns")
    weekday = models.PositiveSmallIntegerField(_("weekday (Monday is 0)"))
    from_time = models.TimeField(_("from"))
    to_time = models.TimeField(_("until"))
    from_on = models.DateField(_("first day"))
    until_on = models.DateField(_("before this day"), null=True, blank=True)

    class Meta:
        ordering = ["resource", "weekday", "from_time", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(weekday__lte=6), name="pattern_weekday_0_to_6"),
            models.CheckConstraint(condition=models.Q(to_time__gt=models.F("from_time")), name="pattern_ends_later"),
            models.CheckConstraint(
                condition=models.Q(until_on=None) | models.Q(until_on__gt=models.F("from_on")),
                name="pattern_until_after_from",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.resource} {self.weekday} {self.from_time:%H:%M}–{self.to_time:%H:%M}"


class Closure(models.Model):
    """Nothing can be booked in this time: for one resource, or for the whole site when none is named."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.CASCADE, related_name="closures")
    resource = models.ForeignKey(
        "clinic_diary.Resource", on_delete=models.CASCADE, null=True, blank=True, related_name="closures"
    )
    starts_at = models.DateTimeField(_("from"))
    ends_at = models.DateTimeField(_("until"))
    reason = models.CharField(_("reason"), max_length=120, blank=True)

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(ends_at__gt=models.F("starts_at")), name="closure_ends_later")
        ]

    def __str__(self) -> str:
        return self.reason or str(_("closed"))
