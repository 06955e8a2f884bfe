"""Who waits for a time, what was offered to whom, and which stretches of the diary became free since."""

from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from clinic.diary.engine.wishes import Wishes

if TYPE_CHECKING:
    from clinic.accounts.models import User


class WishEnd(models.TextChoices):
    BOOKED = "booked", _("has the time now")
    REMOVED = "removed", _("taken off the list by the practice")
    LEFT = "left", _("asked to be taken off the list")
    OVER = "over", _("the last day that suited has passed")
    VISIT_GONE = "visit-gone", _("the visit that was to move up does not stand any more")


class WaitingWishQuerySet(models.QuerySet["WaitingWish"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def waiting(self) -> Self:
        return self.filter(ended_at=None)


class WaitingWish(models.Model):
    """One visit that somebody would like at a time that suits: new, or instead of a later one that is booked."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="waiting_wishes")
    patient = models.ForeignKey("clinic_patients.Patient", on_delete=models.PROTECT, related_name="waiting_wishes")
    visit_type = models.ForeignKey("clinic_diary.VisitType", on_delete=models.PROTECT, related_name="+")
    cycles = models.PositiveSmallIntegerField(_("planned cycles"), default=0)
    light_kind = models.CharField(max_length=12, blank=True, default="")
    person = models.ForeignKey(
        "clinic_diary.Resource", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # Digits from 0 (Monday) to 6, in order; none: any day.
    weekdays = models.CharField(max_length=7, blank=True, default="")
    not_before = models.TimeField(_("not before"), null=True, blank=True)
    over_by = models.TimeField(_("over by"), null=True, blank=True)
    notice_hours = models.PositiveSmallIntegerField(_("notice needed, in hours"), default=0)
    since_on = models.DateField(_("waiting since"))
    until_on = models.DateField(_("last day that suits"), null=True, blank=True)
    # A later visit that moves to the time that is offered.
    booking = models.ForeignKey(
        "clinic_diary.Booking", on_delete=models.PROTECT, null=True, blank=True, related_name="waiting_wishes"
    )
    added_at = models.DateTimeField()
    added_by = models.CharField(max_length=120)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=12, choices=WishEnd, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = WaitingWishQuerySet.as_manager()

    class Meta:
        ordering = ["since_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(weekdays__regex=r"^0?1?2?3?4?5?6?$"), name="wish_weekdays_once_in_order"
            ),
            models.CheckConstraint(
                condition=Q(over_by=None) | Q(not_before=None) | Q(over_by__gt=F("not_before")), name="wish_over_later"
            ),
            models.CheckConstraint(condition=Q(until_on=None) | Q(until_on__gte=F("since_on")), name="wish_ends_later"),
            models.CheckConstraint(condition=Q(notice_hours__lte=336), name="wish_notice_up_to_two_weeks"),
            models.CheckConstraint(
                condition=Q(ended_at=None, ended_because="")
                | (Q(ended_at__isnull=False) & Q(ended_because__in=WishEnd.values)),
                name="wish_ended_for_a_reason",
            ),
            models.UniqueConstraint(
                fields=["booking"],
                condition=Q(ended_at=None, booking__isnull=False),
                name="wish_one_per_visit",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "since_on"], condition=Q(ended_at=None), name="wish_waiting"),
            models.Index(fields=["patient"], name="wish_by_patient"),
        ]

    def __str__(self) -> str:
        return f"wish {self.pk} since {self.since_on:%Y-%m-%d}"

    @property
    def shape(self) -> tuple[int, str]:
        """Cycles and light. A booked visit moves with those that it has now: its plan may have changed since."""
        booking = self.booking
        return (self.cycles, self.light_kind) if booking is None else (booking.agreed_cycles, booking.light_kind)

    @property
    def times(self) -> Wishes:
        """The days and times that suit, for the engine."""
        return Wishes(frozenset(int(day) for day in self.weekdays), self.not_before, self.over_by)


class Answer(models.TextChoices):
    OPEN = "", _("waits for an answer")
    YES = "yes", _("took it")
    NO = "no", _("no thanks")
    LEFT = "left", _("no thanks, and off the list")
    LAPSED = "lapsed", _("no answer in time")
    WITHDRAWN = "withdrawn", _("taken back by the practice")


class WaitingOfferQuerySet(models.QuerySet["WaitingOffer"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(wish__site__memberships__user=user).distinct()

    def unsettled(self) -> Self:
        """Without an answer; some may have run out, and no tick has come yet."""
        return self.filter(answer=Answer.OPEN)

    def open(self, *, now: datetime) -> Self:
        return self.unsettled().filter(answer_by__gt=now, booking__status="pending")


class WaitingOffer(models.Model):
    """One free time, held for one person until the answer or the end of the time to answer."""

    wish = models.ForeignKey(WaitingWish, on_delete=models.PROTECT, related_name="offers")
    # Holds the time like any other held time does.
    booking = models.OneToOneField("clinic_diary.Booking", on_delete=models.PROTECT, related_name="waiting_offer")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    offered_at = models.DateTimeField()
    answer_by = models.DateTimeField()
    # Whether the patient would be clear to start by then, as it was known when it was offered; fit for everybody.
    is_clear = models.BooleanField(default=True)
    clear_words = models.CharField(max_length=200, blank=True)
    answer = models.CharField(max_length=12, choices=Answer, blank=True, default=Answer.OPEN)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.CharField(max_length=120, blank=True)

    objects = WaitingOfferQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["wish"], condition=Q(answer=""), name="offer_one_at_a_time"),
            models.CheckConstraint(condition=Q(answer_by__gt=F("offered_at")), name="offer_leaves_time"),
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="offer_ends_later"),
            models.CheckConstraint(
                condition=Q(answer="", answered_at=None)
                | (Q(answered_at__isnull=False) & Q(answer__in=[one for one in Answer.values if one])),
                name="offer_answered_when",
            ),
        ]
        indexes = [models.Index(fields=["answer_by"], condition=Q(answer=""), name="offer_unsettled")]

    def __str__(self) -> str:
        return f"offer {self.pk} of {self.starts_at:%Y-%m-%d %H:%M}"


class FreedTime(models.Model):
    """A stretch of a site's diary in which something became free; gone once it has been offered around."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.CASCADE, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="freed_ends_later")]

    def __str__(self) -> str:
        return f"free from {self.starts_at:%Y-%m-%d %H:%M}"
