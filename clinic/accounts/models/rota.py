"""Who is on call at a site, and when."""

from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from datetime import datetime

    from clinic.accounts.models.people import User


class OnCallTurnQuerySet(models.QuerySet["OnCallTurn"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__in=user.memberships.values("site"))

    def touching(self, from_at: "datetime", until_at: "datetime") -> Self:
        return self.filter(from_at__lt=until_at, until_at__gt=from_at)


class OnCallTurn(models.Model):
    """One person, from one moment to another; the end belongs to the next. Two of a site never overlap (actions)."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="on_call_turns")
    person = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="on_call_turns")
    from_at = models.DateTimeField()
    until_at = models.DateTimeField()

    objects = OnCallTurnQuerySet.as_manager()

    class Meta:
        ordering = ["from_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(until_at__gt=models.F("from_at")), name="on_call_turn_ends_after_it_began"
            ),
            models.UniqueConstraint(fields=["site", "from_at"], name="on_call_turn_once"),
        ]
        indexes = [models.Index(fields=["site", "until_at"], name="on_call_turn_by_end")]

    def __str__(self) -> str:
        return f"on call from {self.from_at:%Y-%m-%d}"
