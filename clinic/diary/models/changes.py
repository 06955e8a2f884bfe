"""What a patient did with a visit by private link, until somebody at the desk has seen it."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import Site, User


class OwnAct(models.TextChoices):
    PICKED = "picked", _("picked this time")
    KEPT = "kept", _("said that they come")
    MOVED = "moved", _("moved it")
    CANCELLED = "cancelled", _("cancelled it")


class OwnChangeQuerySet(models.QuerySet["OwnChange"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(booking__site__memberships__user=user).distinct()

    def unseen(self, site: "Site") -> Self:
        return self.filter(site=site, seen_at=None)


class OwnChange(models.Model):
    # The booking's own, so that one index finds the few that nobody has seen yet.
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="+")
    booking = models.ForeignKey("clinic_diary.Booking", on_delete=models.CASCADE, related_name="own_changes")
    act = models.CharField(max_length=12, choices=OwnAct)
    at = models.DateTimeField()
    # Of a visit that was moved: when it was before.
    was_at = models.DateTimeField(null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    seen_by = models.CharField(max_length=120, blank=True)

    objects = OwnChangeQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(act__in=OwnAct.values), name="own_change_known"),
            models.CheckConstraint(
                condition=Q(act=OwnAct.MOVED, was_at__isnull=False) | (~Q(act=OwnAct.MOVED) & Q(was_at=None)),
                name="own_change_moved_from",
            ),
            models.CheckConstraint(
                condition=Q(seen_at=None, seen_by="") | (Q(seen_at__isnull=False) & ~Q(seen_by="")),
                name="own_change_seen_by",
            ),
        ]
        indexes = [models.Index(fields=["site", "at"], condition=Q(seen_at=None), name="own_change_unseen")]

    def __str__(self) -> str:
        return f"{self.booking} {self.act}"
