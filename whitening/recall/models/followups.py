"""What must happen after a session, and the tries to make it happen."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class FollowUpKind(models.TextChoices):
    TWO_DAY = "two_day", _("two-day check")
    RE_ASK = "re_ask", _("asked again two days later")
    NEXT_DAY_CALL = "next_day_call", _("call on the next day")
    REVIEW = "review", _("month review")


class FollowUpState(models.TextChoices):
    WAITING = "waiting", _("waiting for its day")
    ASKED = "asked", _("asked, waiting for an answer")
    CALL = "call", _("call to make")
    ANSWERED = "answered", _("answered")
    DONE = "done", _("done")
    NOT_REACHED = "not_reached", _("not reached after three tries")
    CANCELLED = "cancelled", _("not needed any more")


OPEN = [FollowUpState.WAITING, FollowUpState.ASKED, FollowUpState.CALL]


class FollowUpQuerySet(models.QuerySet["FollowUp"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__in=user.memberships.values("site"))

    def open(self) -> Self:
        return self.filter(state__in=OPEN)


class FollowUp(models.Model):
    # The case's own, which never changes: lists of fifty thousand are read without asking each case.
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="+")
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="followups")
    # The session it follows; the review follows the last session of the course.
    session = models.ForeignKey("whitening_chairside.Session", on_delete=models.PROTECT, related_name="followups")
    kind = models.CharField(max_length=16, choices=FollowUpKind)
    state = models.CharField(max_length=12, choices=FollowUpState, default=FollowUpState.WAITING)
    due_at = models.DateTimeField()
    call_by = models.DateTimeField()
    # When something must happen next: it is asked, silence becomes a call, or the call is tried (once more).
    next_at = models.DateTimeField()
    owner = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, null=True, related_name="+")
    planned_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    # Ended because the patient had died or moved away: where that was a mistake, it is planned anew.
    ended_by_leaving = models.BooleanField(default=False)
    words = models.CharField(max_length=500, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = FollowUpQuerySet.as_manager()

    class Meta:
        ordering = ["due_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session", "kind"], name="follow_up_once"),
            models.CheckConstraint(condition=models.Q(kind__in=FollowUpKind.values), name="follow_up_kind_known"),
            models.CheckConstraint(condition=models.Q(state__in=FollowUpState.values), name="follow_up_state_known"),
            models.CheckConstraint(condition=models.Q(call_by__gte=models.F("due_at")), name="follow_up_call_later"),
        ]
        # All that the list and the clock ask for: in order, a page at a time, and counted without reading a row.
        indexes = [models.Index(fields=["state", "next_at", "id", "site"], name="follow_up_by_state_next")]

    def __str__(self) -> str:
        return f"{self.kind} of session {self.session_id}"


class AttemptResult(models.TextChoices):
    REACHED = "reached", _("reached")
    LEFT_MESSAGE = "left_message", _("left a message")
    NO_ANSWER = "no_answer", _("no answer")
    WRONG_NUMBER = "wrong_number", _("wrong number")
    WANTS_VISIT = "wants_visit", _("wants a visit")


class Attempt(models.Model):
    """One call. Append-only."""

    followup = models.ForeignKey(FollowUp, on_delete=models.PROTECT, related_name="attempts")
    result = models.CharField(max_length=16, choices=AttemptResult)
    words = models.CharField(max_length=500, blank=True)
    tried_at = models.DateTimeField()
    tried_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["tried_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(result__in=AttemptResult.values), name="attempt_result_known")
        ]

    def __str__(self) -> str:
        return self.get_result_display()
