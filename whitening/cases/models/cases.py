"""The case: one course of whitening for one patient. Its stage is derived from facts, never stored."""

from datetime import date
from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class CloseReason(models.TextChoices):
    FINISHED = "finished", _("finished")
    PATIENT_ENDED = "patient_ended", _("patient ended it")
    PATIENT_DECIDED_AGAINST = "patient_decided_against", _("patient decided against")
    PRACTICE_DECIDED_AGAINST = "practice_decided_against", _("practice decided against")
    NOT_SUITABLE = "not_suitable", _("not suitable")
    NOT_REACHED = "not_reached", _("not reached after three tries")
    MOVED_AWAY = "moved_away", _("moved away")
    DIED = "died", _("died")


class CaseQuerySet(models.QuerySet["Case"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def open(self) -> Self:
        return self.filter(closed_at=None)


class Case(models.Model):
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="cases")
    patient = models.ForeignKey("clinic_patients.Patient", on_delete=models.PROTECT, related_name="cases")
    wishes = models.TextField(_("in their words: what would they like to change?"), max_length=2000)
    # Asked on the first call so that enough time can be pencilled before there is a plan.
    expected_cycles = models.PositiveSmallIntegerField(default=4)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")
    # A clinician has put it off until that day, and why; a session is not before it.
    deferred_until = models.DateField(_("put off until"), null=True, blank=True)
    deferred_because = models.CharField(_("why"), max_length=300, blank=True)
    deferred_by = models.CharField(max_length=120, blank=True)
    colour_reminder = models.BooleanField(_("remind me in about a year about the colour of my teeth"), default=False)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.CharField(max_length=120, blank=True)
    close_reason = models.CharField(max_length=24, choices=CloseReason, blank=True)
    close_words = models.CharField(max_length=500, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = CaseQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["patient"], condition=models.Q(closed_at=None), name="case_one_open_per_patient"
            ),
            models.CheckConstraint(
                condition=models.Q(closed_at=None, close_reason="")
                | (models.Q(closed_at__isnull=False) & ~models.Q(close_reason="")),
                name="case_closed_with_a_reason",
            ),
            models.CheckConstraint(
                condition=models.Q(deferred_until=None, deferred_because="", deferred_by="")
                | (models.Q(deferred_until__isnull=False) & ~models.Q(deferred_because="") & ~models.Q(deferred_by="")),
                name="case_put_off_with_a_reason",
            ),
            models.CheckConstraint(
                condition=models.Q(expected_cycles__gte=1) & models.Q(expected_cycles__lte=6),
                name="case_expected_cycles_1_to_6",
            ),
        ]
        indexes = [models.Index(fields=["site", "closed_at"], name="case_by_site_open")]

    def __str__(self) -> str:
        return f"case {self.pk}"

    def is_put_off(self, today: date) -> bool:
        return self.closed_at is None and self.deferred_until is not None and self.deferred_until > today


class VisitPurpose(models.TextChoices):
    CONSULTATION = "consultation", _("consultation")
    SESSION = "session", _("whitening session")
    REVIEW = "review", _("month review")
    PROBLEM = "problem", _("problem visit")
    CLEANING = "cleaning", _("scale and polish")
    IMPRESSIONS = "impressions", _("impressions or scan")
    FITTING = "fitting", _("tray fitting")


class CaseVisit(models.Model):
    """Ties a booking of the diary to a case and says what it is for."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="visits")
    booking = models.OneToOneField("clinic_diary.Booking", on_delete=models.PROTECT, related_name="case_visit")
    purpose = models.CharField(max_length=12, choices=VisitPurpose)
    session_number = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["booking__starts_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(purpose__in=VisitPurpose.values), name="case_visit_purpose"),
            models.CheckConstraint(
                condition=models.Q(purpose=VisitPurpose.SESSION, session_number__gte=1)
                | (~models.Q(purpose=VisitPurpose.SESSION) & models.Q(session_number=None)),
                name="case_visit_session_number",
            ),
        ]

    def __str__(self) -> str:
        return self.get_purpose_display()


class CaseInvitation(models.Model):
    """Ties an invitation to pick a time to a case, and says what the visit is for."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="invitations")
    invitation = models.OneToOneField(
        "clinic_diary.TimeInvitation", on_delete=models.PROTECT, related_name="case_invitation"
    )
    purpose = models.CharField(max_length=12, choices=VisitPurpose)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(purpose__in=VisitPurpose.values), name="case_invitation_purpose"),
        ]

    def __str__(self) -> str:
        return self.get_purpose_display()
