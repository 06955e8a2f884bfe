"""What the patient said afterwards, how urgent it is, and who answers for it until when."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class Urgency(models.IntegerChoices):
    ROUTINE = 0, _("nothing worrying")
    WITHIN_DAYS = 1, _("call within three days")
    SAME_DAY = 2, _("clinician on the same day")
    URGENT = 3, _("clinician within two hours")
    EMERGENCY = 4, _("emergency")


class Reply(models.Model):
    """Append-only. Any number may come until the review."""

    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="replies")
    session = models.ForeignKey("whitening_chairside.Session", on_delete=models.PROTECT, related_name="replies")
    questions = models.CharField(max_length=24)
    answers = models.JSONField()
    urgency = models.PositiveSmallIntegerField(choices=Urgency)
    # The triage rules that fired, by code, and the version of the rule file.
    rules = models.JSONField(default=list)
    rules_version = models.CharField(max_length=24)
    said_at = models.DateTimeField()
    # Of staff who typed it; the patient's own name stands in the case alone.
    said_by = models.CharField(max_length=120, blank=True)
    typed_by_staff = models.BooleanField(default=False)

    class Meta:
        ordering = ["said_at", "pk"]

    def __str__(self) -> str:
        return f"reply in case {self.case_id}"


class EscalationQuerySet(models.QuerySet["Escalation"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(case__site__in=user.memberships.values("site"))

    def open(self) -> Self:
        return self.filter(closed_at=None)

    def untaken(self) -> Self:
        return self.filter(closed_at=None, taken_at=None)


class Escalation(models.Model):
    """A worrying answer: it has an owner and a due time, and closing it needs a word."""

    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="escalations")
    reply = models.OneToOneField(Reply, on_delete=models.PROTECT, related_name="escalation")
    urgency = models.PositiveSmallIntegerField(choices=Urgency)
    owner = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, null=True, related_name="+")
    due_at = models.DateTimeField()
    raised_at = models.DateTimeField()
    # Whoever takes it becomes its owner; from then on nobody is told again.
    taken_at = models.DateTimeField(null=True, blank=True)
    # The last step of raising it again, and when that began.
    times_raised = models.PositiveSmallIntegerField(default=0)
    raised_again_at = models.DateTimeField(null=True, blank=True)
    # Raising begins anew with the new owner; by when the patient was told to hear from us stays as it was.
    handed_on_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.CharField(max_length=120, blank=True)
    closing_words = models.CharField(max_length=500, blank=True)

    objects = EscalationQuerySet.as_manager()

    class Meta:
        ordering = ["-urgency", "due_at", "pk"]
        # Few at any time, however many were settled.
        indexes = [
            models.Index(fields=["-urgency", "due_at"], condition=models.Q(closed_at=None), name="escalation_open")
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(closed_at=None) | ~models.Q(closing_words=""), name="escalation_closed_with_words"
            ),
            models.CheckConstraint(
                condition=models.Q(taken_at=None) | models.Q(owner__isnull=False), name="escalation_taken_by_somebody"
            ),
            models.CheckConstraint(
                condition=models.Q(times_raised=0, raised_again_at=None)
                | models.Q(times_raised__gt=0, raised_again_at__isnull=False),
                name="escalation_raised_again_at",
            ),
        ]

    def __str__(self) -> str:
        return f"escalation in case {self.case_id}"


class Raising(models.Model):
    """That one colleague was told once more of an answer which nobody had taken. Append-only."""

    escalation = models.ForeignKey(Escalation, on_delete=models.PROTECT, related_name="raisings")
    step = models.PositiveSmallIntegerField()
    person = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")
    raised_at = models.DateTimeField()

    class Meta:
        ordering = ["step", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["escalation", "step", "person", "raised_at"], name="raising_once")
        ]

    def __str__(self) -> str:
        return f"step {self.step} of escalation {self.escalation_id}"
