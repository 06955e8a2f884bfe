"""A patient asked to pick the time of one visit alone, by private link."""

from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class InvitationEnd(models.TextChoices):
    PICKED = "picked", _("a time was picked")
    TAKEN_BACK = "taken_back", _("taken back")
    RAN_OUT = "ran_out", _("ran out")
    BOOKED_OTHERWISE = "booked_otherwise", _("the visit was booked otherwise")


class TimeInvitationQuerySet(models.QuerySet["TimeInvitation"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def open(self, *, now: datetime) -> Self:
        return self.filter(ended_at=None, closes_at__gt=now)


class TimeInvitation(models.Model):
    """cycles and light_kind as in a booking; what the visit is for is known to whoever made the invitation."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey("clinic_patients.Patient", on_delete=models.PROTECT, related_name="time_invitations")
    visit_type = models.ForeignKey("clinic_diary.VisitType", on_delete=models.PROTECT, related_name="+")
    cycles = models.PositiveSmallIntegerField(_("planned cycles"), default=0)
    light_kind = models.CharField(max_length=12, blank=True, default="")
    made_at = models.DateTimeField(_("sent"))
    made_by = models.CharField(max_length=120)
    closes_at = models.DateTimeField(_("works until"))
    # How often its link was sent.
    times_sent = models.PositiveSmallIntegerField(default=1)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=16, choices=InvitationEnd, blank=True)
    booking = models.OneToOneField(
        "clinic_diary.Booking", on_delete=models.PROTECT, null=True, blank=True, related_name="invitation"
    )

    objects = TimeInvitationQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(closes_at__gt=models.F("made_at")), name="invitation_closes_later"),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_because="")
                | (Q(ended_at__isnull=False) & Q(ended_because__in=InvitationEnd.values)),
                name="invitation_ended_for_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(booking=None) ^ Q(ended_because=InvitationEnd.PICKED), name="invitation_picked_is_booked"
            ),
            models.UniqueConstraint(
                fields=["patient", "visit_type"], condition=Q(ended_at=None), name="invitation_one_open_per_visit"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.visit_type} {self.made_at:%Y-%m-%d}"
