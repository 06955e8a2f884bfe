"""Being asked back: for a dental check at the interval that the dentist set, and about the colour in about a year."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class RecallKind(models.TextChoices):
    CHECK = "check", _("dental check")
    COLOUR = "colour", _("colour of the teeth, a year later")


class RecallState(models.TextChoices):
    WAITING = "waiting", _("waiting for its day")
    ASKED = "asked", _("asked, waiting for an answer")
    ANSWERED = "answered", _("answered")
    BOOKED = "booked", _("booked")
    NOT_REACHED = "not_reached", _("no answer after three times")
    CANCELLED = "cancelled", _("not needed any more")


class RecallAnswer(models.TextChoices):
    CALL = "call", _("please call me")
    NO = "no", _("not this time")


OPEN_RECALL = [RecallState.WAITING, RecallState.ASKED]


class RecallQuerySet(models.QuerySet["Recall"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__in=user.memberships.values("site"))

    def open(self) -> Self:
        return self.filter(state__in=OPEN_RECALL)


class Recall(models.Model):
    # The case's own, which never changes: lists are read without asking each case.
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="+")
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="recalls")
    kind = models.CharField(max_length=8, choices=RecallKind)
    state = models.CharField(max_length=12, choices=RecallState, default=RecallState.WAITING)
    due_at = models.DateTimeField()
    # When it is looked at again: it is asked (once more), or ended.
    next_at = models.DateTimeField()
    times_asked = models.PositiveSmallIntegerField(default=0)
    answer = models.CharField(max_length=8, choices=RecallAnswer, blank=True)
    planned_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    # Ended because the patient had died or moved away: where that was a mistake, it is planned anew.
    ended_by_leaving = models.BooleanField(default=False)

    objects = RecallQuerySet.as_manager()

    class Meta:
        ordering = ["due_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["case", "kind"], name="recall_once"),
            models.CheckConstraint(condition=models.Q(kind__in=RecallKind.values), name="recall_kind_known"),
            models.CheckConstraint(condition=models.Q(state__in=RecallState.values), name="recall_state_known"),
            models.CheckConstraint(
                condition=models.Q(answer="") | models.Q(answer__in=RecallAnswer.values), name="recall_answer_known"
            ),
            models.CheckConstraint(condition=models.Q(times_asked__lte=3), name="recall_three_times_at_most"),
            models.CheckConstraint(
                condition=models.Q(state__in=OPEN_RECALL, closed_at=None)
                | (~models.Q(state__in=OPEN_RECALL) & models.Q(closed_at__isnull=False)),
                name="recall_closed_when_over",
            ),
        ]
        indexes = [
            models.Index(fields=["state", "next_at"], name="recall_by_state_next"),
            models.Index(fields=["site", "kind", "due_at"], name="recall_by_site_due"),
            # Each tick looks at those that ended lately.
            models.Index(fields=["closed_at"], condition=models.Q(closed_at__isnull=False), name="recall_by_closed"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} after case {self.case_id}"
