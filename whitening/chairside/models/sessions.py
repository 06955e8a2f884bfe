"""A session at the chair and its log. What the log amounts to is computed, never stored."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.kinds import Kind

if TYPE_CHECKING:
    from clinic.accounts.models import User


class SessionQuerySet(models.QuerySet["Session"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def open(self) -> Self:
        return self.filter(closed_at=None)


class Session(models.Model):
    """Opened once with all gates open, closed once by a clinician."""

    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="sessions")
    plan = models.ForeignKey("whitening_cases.Plan", on_delete=models.PROTECT, related_name="+")
    # A patient who walked in has no booking.
    booking = models.OneToOneField(
        "clinic_diary.Booking", on_delete=models.PROTECT, null=True, blank=True, related_name="session"
    )
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="sessions")
    number = models.PositiveSmallIntegerField()
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, null=True, related_name="+")

    objects = SessionQuerySet.as_manager()

    class Meta:
        ordering = ["opened_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["case", "number"], name="session_number_once"),
            models.UniqueConstraint(
                fields=["case"], condition=models.Q(closed_at=None), name="session_one_open_per_case"
            ),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="session_number_from_1"),
            models.CheckConstraint(
                condition=models.Q(closed_at=None, closed_by=None)
                | models.Q(closed_at__isnull=False, closed_by__isnull=False),
                name="session_closed_by_somebody",
            ),
        ]
        indexes = [models.Index(fields=["site", "closed_at"], name="session_by_site_open")]

    def __str__(self) -> str:
        return f"session {self.number} of case {self.case_id}"


KIND_NAMES = [kind.name.lower() for kind in Kind]


class SessionEvent(models.Model):
    """One entry of the log. Append-only: an undo is a further entry that names the one it takes back."""

    session = models.ForeignKey(Session, on_delete=models.PROTECT, related_name="events")
    seq = models.PositiveIntegerField()
    kind = models.CharField(max_length=24)
    data = models.JSONField(default=dict)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    actor_id = models.CharField(max_length=40)
    actor_name = models.CharField(max_length=120)
    # Made by the device that was tapped: the same tap sent twice is written once.
    client_id = models.CharField(max_length=44, unique=True)
    undoes_seq = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["session", "seq"]
        constraints = [
            models.UniqueConstraint(fields=["session", "seq"], name="session_event_seq_once"),
            models.CheckConstraint(condition=models.Q(kind__in=KIND_NAMES), name="session_event_kind_known"),
            models.CheckConstraint(
                condition=models.Q(kind="undo", undoes_seq__isnull=False)
                | (~models.Q(kind="undo") & models.Q(undoes_seq=None)),
                name="session_event_undo_names_one",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.seq} {self.kind}"

    @property
    def kind_code(self) -> Kind:
        return Kind[self.kind.upper()]

    @property
    def label(self) -> str:
        return str(self.kind_code.label)


class IdentityCheck(models.Model):
    """Name and date of birth, asked on the day before anything else. Append-only."""

    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="identity_checks")
    asked_at = models.DateTimeField()
    # The day at the site.
    asked_on = models.DateField()
    asked_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name = _("identity check")
        ordering = ["asked_at", "pk"]

    def __str__(self) -> str:
        return f"identity of case {self.case_id}"
