"""When a resource works: weekly patterns in the site's wall-clock time, and closures as instants."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.diary.engine.working import Pattern

if TYPE_CHECKING:
    from clinic.accounts.models import User


# Many people keep the same hours: one object for all of them is made once, and told from others at a glance.
_pattern = lru_cache(maxsize=4096)(Pattern)


class WorkingPatternQuerySet(models.QuerySet["WorkingPattern"]):
    def by_resource(self) -> Mapping[int, Sequence[Pattern]]:
        """For the arithmetic of the diary, in one query."""
        return grouped(self.shapes())

    def shapes(self) -> "models.QuerySet[WorkingPattern, tuple[Any, ...]]":
        # Not in the order of the page, which would join each pattern with its resource.
        rows = self.order_by("resource_id", "weekday", "from_time", "pk")
        return rows.values_list("resource_id", *Pattern.__dataclass_fields__)


def grouped(shapes: Iterable[Sequence[Any]]) -> Mapping[int, Sequence[Pattern]]:
    """Rows of a resource's id and a pattern of its hours."""
    found: dict[int, list[Pattern]] = {}
    for resource_id, *shape in shapes:
        found.setdefault(resource_id, []).append(_pattern(*shape))
    return found


class WorkingPattern(models.Model):
    """Open from one wall-clock time to another on one weekday, from a date on (the upper end is open).

    Its fields are those of the engine's Pattern, which says what they mean.
    """

    resource = models.ForeignKey("clinic_diary.Resource", on_delete=models.CASCADE, related_name="patterns")
    weekday = models.PositiveSmallIntegerField(_("weekday (Monday is 0)"))
    from_time = models.TimeField(_("from"))
    to_time = models.TimeField(_("until"))
    from_on = models.DateField(_("first day"))
    until_on = models.DateField(_("before this day"), null=True, blank=True)
    every_weeks = models.PositiveSmallIntegerField(_("every so many weeks"), default=1)

    objects = WorkingPatternQuerySet.as_manager()

    class Meta:
        ordering = ["resource", "weekday", "from_time", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(weekday__lte=6), name="pattern_weekday_0_to_6"),
            models.CheckConstraint(condition=models.Q(to_time__gt=models.F("from_time")), name="pattern_ends_later"),
            models.CheckConstraint(
                condition=models.Q(until_on=None) | models.Q(until_on__gt=models.F("from_on")),
                name="pattern_until_after_from",
            ),
            models.CheckConstraint(condition=models.Q(every_weeks__in=(1, 2)), name="pattern_every_1_or_2_weeks"),
        ]

    def __str__(self) -> str:
        return f"{self.resource} {self.weekday} {self.from_time:%H:%M}–{self.to_time:%H:%M}"

    @property
    def shape(self) -> Pattern:
        return Pattern(*(getattr(self, name) for name in Pattern.__dataclass_fields__))


class ClosureKind(models.TextChoices):
    LEAVE = "leave", _("leave")
    TRAINING = "training", _("training")
    OUT_OF_USE = "out_of_use", _("out of use")
    CLOSED = "closed", _("whole site closed")
    HOLIDAY = "holiday", _("public holiday")


class ClosureQuerySet(models.QuerySet["Closure"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def coming(self, now: datetime) -> Self:
        """Those that are not over yet."""
        return self.filter(ends_at__gt=now)


class Closure(models.Model):
    """Nothing can be booked in this time: for one resource, or for the whole site when none is named."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.CASCADE, related_name="closures")
    resource = models.ForeignKey(
        "clinic_diary.Resource", on_delete=models.CASCADE, null=True, blank=True, related_name="closures"
    )
    kind = models.CharField(_("kind"), max_length=12, choices=ClosureKind)
    starts_at = models.DateTimeField(_("from"))
    ends_at = models.DateTimeField(_("until"))
    reason = models.CharField(_("reason"), max_length=120, blank=True)

    objects = ClosureQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(ends_at__gt=models.F("starts_at")), name="closure_ends_later"),
            # Training may be one person's or everybody's.
            models.CheckConstraint(
                condition=models.Q(kind=ClosureKind.TRAINING)
                | models.Q(kind__in=[ClosureKind.LEAVE, ClosureKind.OUT_OF_USE], resource__isnull=False)
                | models.Q(kind__in=[ClosureKind.CLOSED, ClosureKind.HOLIDAY], resource__isnull=True),
                name="closure_kind_fits_whom",
            ),
        ]

    def __str__(self) -> str:
        return self.reason or self.get_kind_display()

    @property
    def whom(self) -> str:
        return str(self.resource or self.site)
