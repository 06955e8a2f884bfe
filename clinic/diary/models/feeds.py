"""Secret addresses at which a calendar program fetches the visits of one room or one person."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Membership
from clinic.diary.models.resources import Resource

if TYPE_CHECKING:
    from clinic.accounts.models import User


class CalendarFeedQuerySet(models.QuerySet["CalendarFeed"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(resource__site__memberships__user=user).distinct()

    def of_person(self, user: "User") -> Self:
        """Those about this person, whoever made them."""
        return self.visible_to(user).filter(resource__person=user)

    def answering(self) -> Self:
        """Not taken back; and who made it, and whom it is about, still work at that site."""
        maker_is_here = Membership.objects.filter(site=OuterRef("resource__site"), user=OuterRef("made_by"))
        return self.filter(
            Exists(maker_is_here),
            resource__in=Resource.objects.with_calendar(),
            made_by__is_active=True,
            revoked_at=None,
        )


class CalendarFeed(models.Model):
    """Of the secret in the address only the digest is kept, so nobody can read the address here again."""

    resource = models.ForeignKey("clinic_diary.Resource", on_delete=models.PROTECT, related_name="calendar_feeds")
    label = models.CharField(_("where it is used"), max_length=60, blank=True)
    with_initials = models.BooleanField(_("patients' initials"), default=False)
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(_("made"))
    made_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")
    # To within a few minutes: not every fetch is worth a write.
    last_fetched_at = models.DateTimeField(_("last fetched"), null=True, blank=True)
    revoked_at = models.DateTimeField(_("taken back"), null=True, blank=True)
    revoked_by = models.CharField(max_length=120, blank=True)

    objects = CalendarFeedQuerySet.as_manager()

    class Meta:
        ordering = ["resource", "made_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(token_hash__regex=r"^[0-9a-f]{64}$"),  # noqa: S106  (a shape, no secret)
                name="calendar_feed_hash_shape",
            ),
            models.CheckConstraint(
                condition=Q(revoked_at=None) | Q(revoked_at__gte=models.F("made_at")), name="calendar_feed_ends_later"
            ),
            models.CheckConstraint(
                condition=Q(revoked_at=None, revoked_by="") | (Q(revoked_at__isnull=False) & ~Q(revoked_by="")),
                name="calendar_feed_ended_by",
            ),
        ]

    def __str__(self) -> str:
        return self.label or str(self.resource)
