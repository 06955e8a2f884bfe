"""A question to whoever treats: this patient is late, what shall be done today?"""

from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.diary.models.bookings import Status

if TYPE_CHECKING:
    from clinic.accounts.models import Site, User


class LateAnswer(models.TextChoices):
    NONE = "", _("not answered yet")
    FIT = "fit", _("begin with what fits")
    MOVE = "move", _("find another time")


class LateQuestionQuerySet(models.QuerySet["LateQuestion"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(booking__site__memberships__user=user).distinct()

    def standing(self, *, site: "Site", now: datetime) -> Self:
        """Those that still matter: of a visit of now that has not begun; an answered one until somebody acts on it."""
        rows = self.filter(
            booking__site=site, booking__status__in=[Status.BOOKED, Status.ARRIVED], booking__ends_at__gt=now
        )
        moved_since = models.Q(answer=LateAnswer.MOVE) & ~models.Q(booking__starts_at=models.F("was_at"))
        return rows.exclude(answer=LateAnswer.FIT).exclude(moved_since).order_by("asked_at", "pk")


class LateQuestion(models.Model):
    booking = models.ForeignKey("clinic_diary.Booking", on_delete=models.CASCADE, related_name="late_questions")
    # The start that the visit had then: once it is moved nobody has to answer any more.
    was_at = models.DateTimeField()
    here_at = models.DateTimeField()
    asked_at = models.DateTimeField()
    asked_by = models.CharField(max_length=120)
    answer = models.CharField(max_length=8, choices=LateAnswer, blank=True, default=LateAnswer.NONE)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.CharField(max_length=120, blank=True)

    objects = LateQuestionQuerySet.as_manager()

    class Meta:
        ordering = ["asked_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(answer__in=LateAnswer.values), name="late_answer_known"),
            models.CheckConstraint(
                condition=models.Q(answer="", answered_at=None) | ~models.Q(answer="") & ~models.Q(answered_at=None),
                name="late_answered_when",
            ),
            models.UniqueConstraint(fields=["booking"], condition=models.Q(answer=""), name="late_question_open_once"),
        ]

    def __str__(self) -> str:
        return f"{self.booking} {self.get_answer_display()}"

    @property
    def here_on_wall(self) -> str:
        """As a field of a form holds it."""
        return f"{self.here_at.astimezone(self.booking.site.zone):%H:%M}"
