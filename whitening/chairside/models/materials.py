"""Batches: what was received, what is on hold, and what was used for whom."""

from datetime import date
from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class BatchQuerySet(models.QuerySet["Batch"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def on_hold(self) -> Self:
        return self.filter(holds__released_at=None, holds__isnull=False).distinct()

    def usable(self, day: date) -> Self:
        """In date on that local day, and on no hold."""
        held = BatchHold.objects.filter(released_at=None).values("batch")
        return self.filter(expires_on__gte=day).exclude(pk__in=held)


class Batch(models.Model):
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="batches")
    product = models.ForeignKey("whitening_cases.Product", on_delete=models.PROTECT, related_name="batches")
    number = models.CharField(_("batch number"), max_length=60)
    expires_on = models.DateField(_("use until"))
    received_on = models.DateField(_("received on"))
    quantity_received = models.PositiveIntegerField(_("how many"))
    unit = models.CharField(_("of what"), max_length=40)

    objects = BatchQuerySet.as_manager()

    class Meta:
        ordering = ["expires_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["site", "product", "number"], name="batch_number_once"),
            models.CheckConstraint(condition=models.Q(quantity_received__gte=1), name="batch_has_something"),
            models.CheckConstraint(condition=~models.Q(number=""), name="batch_has_a_number"),
        ]

    def __str__(self) -> str:
        return self.number

    def in_date(self, day: date) -> bool:
        return self.expires_on >= day


class BatchHold(models.Model):
    """Blocks a batch at every chair from `held_at` until somebody releases it."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="holds")
    held_at = models.DateTimeField()
    held_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")
    why = models.CharField(_("why"), max_length=300)
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, null=True, related_name="+")
    released_because = models.CharField(_("why it may be used again"), max_length=300, blank=True)

    class Meta:
        ordering = ["-held_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["batch"], condition=models.Q(released_at=None), name="batch_hold_one_at_a_time"
            ),
            models.CheckConstraint(condition=~models.Q(why=""), name="batch_hold_says_why"),
            models.CheckConstraint(
                condition=models.Q(released_at=None, released_by=None, released_because="")
                | (models.Q(released_at__isnull=False, released_by__isnull=False) & ~models.Q(released_because="")),
                name="batch_hold_released_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"hold of batch {self.batch_id}"


class UseKind(models.TextChoices):
    USED = "used", _("used")
    WASTED = "wasted", _("wasted")


class BatchUse(models.Model):
    """Append-only: one unit for one mix of one session, or wasted."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="uses")
    session = models.ForeignKey(
        "whitening_chairside.Session", on_delete=models.PROTECT, null=True, blank=True, related_name="batch_uses"
    )
    kind = models.CharField(max_length=8, choices=UseKind)
    quantity = models.PositiveIntegerField(default=1)
    used_at = models.DateTimeField()
    used_by = models.CharField(max_length=120)

    class Meta:
        ordering = ["used_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(kind__in=UseKind.values), name="batch_use_kind_known"),
            models.CheckConstraint(condition=models.Q(quantity__gte=1), name="batch_use_at_least_one"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of batch {self.batch_id}"
