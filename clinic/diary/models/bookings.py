"""Bookings and what they claim. The database refuses two overlapping claims of one resource.

A booking keeps the wall-clock time and the zone as agreed with the patient, and the instant derived
from them; a clock change never moves the wall-clock time.
"""

import uuid
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class Status(models.TextChoices):
    """HL7 FHIR R4 AppointmentStatus codes (http://hl7.org/fhir/R4/valueset-appointmentstatus.html), our words."""

    PROPOSED = "proposed", _("pencilled")
    PENDING = "pending", _("held, not booked yet")
    BOOKED = "booked", _("booked")
    ARRIVED = "arrived", _("here, waiting")
    FULFILLED = "fulfilled", _("finished")
    CANCELLED = "cancelled", _("cancelled")
    NOSHOW = "noshow", _("did not come")
    ENTERED_IN_ERROR = "entered-in-error", _("entered by mistake")
    CHECKED_IN = "checked-in", _("in the chair")
    WAITLIST = "waitlist", _("on the waiting list")


# No visit lasts longer: each of its needs lies inside the hours of one day.
LONGEST = timedelta(days=2)


# What cancelled_by says of a pencilled time that nobody called off.
LAPSED = "lapsed"


class Why(models.TextChoices):
    """Why a visit did not happen, as far as anybody said. Nothing clinical, and no judgement."""

    NOT_SAID = "", _("not said")
    ILL = "ill", _("ill that day")
    OTHER_DUTIES = "other-duties", _("work, family or travel")
    CHANGED_MIND = "changed-mind", _("does not want it now")
    MISUNDERSTOOD = "misunderstood", _("mistook the day or the time")
    STAFF_AWAY = "staff-away", _("somebody of the practice is away")
    ROOM_OR_LIGHT = "room-or-light", _("a room or a light is out of use")
    NOT_READY = "not-ready", _("something has to come first")


# Statuses whose bookings hold their claims.
HOLDING = [
    Status.PROPOSED,
    Status.PENDING,
    Status.BOOKED,
    Status.ARRIVED,
    Status.CHECKED_IN,
    Status.FULFILLED,
    Status.NOSHOW,
]


# Statuses of a visit that is still to come or going on.
COMING = [Status.PROPOSED, Status.PENDING, Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN]

# A visit that has begun or is over stays where it was; a held time is booked or let go.
MOVABLE = frozenset({Status.PROPOSED, Status.BOOKED})


class BookingQuerySet(models.QuerySet["Booking"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def between(self, start_at: datetime, end_at: datetime) -> Self:
        """Bookings that touch the half-open range of instants.

        The earliest start lets an index end the search: without it every visit of the past is looked at.
        """
        return self.filter(starts_at__lt=end_at, starts_at__gt=start_at - LONGEST, ends_at__gt=start_at)

    def holding(self) -> Self:
        return self.filter(status__in=HOLDING)

    def held(self, *, now: datetime) -> Self:
        """Times that somebody holds while on the telephone."""
        return self.filter(status=Status.PENDING, lapses_at__gt=now)

    def ended_holds(self, *, now: datetime) -> Self:
        """Holds that ran out and that nobody has freed yet: their time is anybody's."""
        return self.filter(status=Status.PENDING, lapses_at__lte=now)

    def without_ended_holds(self, *, now: datetime) -> Self:
        return self.exclude(status=Status.PENDING, lapses_at__lte=now)

    def without_what_ran_out(self, *, now: datetime) -> Self:
        return self.exclude(status__in=[Status.PENDING, Status.PROPOSED], lapses_at__lte=now)


class Booking(models.Model):
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="bookings")
    patient = models.ForeignKey("clinic_patients.Patient", on_delete=models.PROTECT, related_name="bookings")
    visit_type = models.ForeignKey("clinic_diary.VisitType", on_delete=models.PROTECT, related_name="bookings")
    status = models.CharField(max_length=16, choices=Status)
    wall_on = models.DateField(_("date"))
    wall_time = models.TimeField(_("time"))
    zone = models.CharField(max_length=64)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    cycles = models.PositiveSmallIntegerField(_("planned cycles"), default=0)
    light_kind = models.CharField(max_length=12, blank=True, default="")
    # Of the plan that it was booked for; 0: there was none yet.
    cycle_minutes = models.PositiveSmallIntegerField(_("planned minutes of one cycle"), default=0)
    # Set when the patient is late: by how many minutes, and how many cycles there were before some were left out.
    late_minutes = models.PositiveSmallIntegerField(default=0)
    cycles_before = models.PositiveSmallIntegerField(null=True, blank=True)
    lapses_at = models.DateTimeField(_("held until"), null=True, blank=True)
    # The patient's own word that this time stands; another time asks anew.
    accepted_at = models.DateTimeField(_("the patient said yes"), null=True, blank=True)
    arrived_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_by = models.CharField(max_length=12, blank=True)
    cancel_reason = models.CharField(max_length=200, blank=True)
    why = models.CharField(_("why"), max_length=16, choices=Why, blank=True, default=Why.NOT_SAID)
    # What the practice asked for when it was cancelled: a later setting changes nothing about it.
    notice_hours = models.PositiveSmallIntegerField(null=True, blank=True)
    # The last change of status, for as long as it may be taken back: from what, when, by which actor's id.
    status_from = models.CharField(max_length=16, blank=True)
    status_at = models.DateTimeField(null=True, blank=True)
    status_by = models.CharField(max_length=64, blank=True)
    note = models.CharField(_("note for the desk"), max_length=200, blank=True)
    # iCalendar identity (RFC 5545): the UID never changes, SEQUENCE rises with each change of time.
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    sequence = models.PositiveIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)
    booked_at = models.DateTimeField()
    booked_by = models.CharField(max_length=120)
    # The id of that actor: a held time is booked or let go by the desk that holds it.
    booked_by_actor = models.CharField(max_length=64, blank=True)

    # No column. Set where many were read at once, for their messages: whether something is still to be done before it.
    is_awaited: bool | None = None

    objects = BookingQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(ends_at__gt=models.F("starts_at")), name="booking_ends_later"),
            models.CheckConstraint(condition=models.Q(status__in=Status.values), name="booking_status_known"),
            models.CheckConstraint(condition=models.Q(why__in=Why.values), name="booking_why_known"),
            models.CheckConstraint(
                condition=~models.Q(status__in=[Status.PROPOSED, Status.PENDING]) | models.Q(lapses_at__isnull=False),
                name="booking_not_settled_lapses",
            ),
            models.CheckConstraint(
                condition=~models.Q(status=Status.CANCELLED) | models.Q(cancelled_at__isnull=False),
                name="booking_cancelled_when",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "starts_at"], name="booking_by_site_start"),
            models.Index(fields=["patient", "starts_at"], name="booking_by_patient_start"),
            # Asked by every search and every tick; few ever carry a date, fewer still stand.
            models.Index(
                fields=["status", "lapses_at"], condition=models.Q(lapses_at__isnull=False), name="booking_by_lapse"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.wall_on:%Y-%m-%d} {self.wall_time:%H:%M}"

    @property
    def notice(self) -> timedelta | None:
        """How long before its time it was cancelled; None for a visit that was not."""
        return max(self.starts_at - self.cancelled_at, timedelta()) if self.cancelled_at else None

    @property
    def was_only_pencilled(self) -> bool:
        """It ended without ever having been agreed: lapsed, or let go before that."""
        return self.status == Status.CANCELLED and (self.cancelled_by == LAPSED or self.status_from == Status.PROPOSED)

    @property
    def agreed_cycles(self) -> int:
        """As booked, also after a late start has left some out."""
        return self.cycles if self.cycles_before is None else self.cycles_before

    @property
    def was_late(self) -> bool:
        """Cancelled with less notice than the practice asked for then. Shown, and counted nowhere."""
        if self.notice is None or self.notice_hours is None:
            return False
        return self.notice < timedelta(hours=self.notice_hours)


class ResourceClaimQuerySet(models.QuerySet["ResourceClaim"]):
    def between(self, start_at: datetime, end_at: datetime) -> Self:
        """Claims that touch the half-open range of instants; no claim is longer than its visit (see above)."""
        return self.filter(start_at__lt=end_at, start_at__gt=start_at - LONGEST, end_at__gt=start_at)


class ResourceClaim(models.Model):
    """One resource held by one segment of one booking over a half-open range of instants.

    PostgreSQL refuses overlaps by an exclusion constraint, SQLite by triggers: see clinic.diary.overlap.
    """

    booking = models.ForeignKey(Booking, on_delete=models.CASCADE, related_name="claims")
    resource = models.ForeignKey("clinic_diary.Resource", on_delete=models.PROTECT, related_name="claims")
    need = models.CharField(max_length=16)
    segment = models.CharField(max_length=80)
    start_at = models.DateTimeField()
    end_at = models.DateTimeField()
    active = models.BooleanField(default=True)

    objects = ResourceClaimQuerySet.as_manager()

    class Meta:
        db_table = "resource_claim"
        ordering = ["start_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(end_at__gt=models.F("start_at")), name="claim_ends_later")
        ]
        indexes = [
            models.Index(
                fields=["resource", "start_at", "end_at"], condition=models.Q(active=True), name="claim_by_resource"
            )
        ]

    def __str__(self) -> str:
        return f"{self.resource} {self.start_at:%Y-%m-%d %H:%M}"
