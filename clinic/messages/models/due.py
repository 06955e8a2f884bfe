"""What is due to be said to a patient. This table is the truth; the queue engine only rings the bell."""

from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.patients.models import Channel

if TYPE_CHECKING:
    from clinic.accounts.models import User
    from clinic.patients.models import Patient


class State(models.TextChoices):
    PLANNED = "planned", _("planned")
    DUE = "due", _("due")
    CLAIMED = "claimed", _("being prepared")
    HANDING_OVER = "handing_over", _("being handed over")
    HANDED_OVER = "handed_over", _("handed over")
    DELIVERED = "delivered", _("delivered")
    BOUNCED = "bounced", _("came back")
    FAILED = "failed", _("failed")
    UNCERTAIN = "uncertain", _("uncertain: may have gone out")
    MISSED = "missed", _("missed")
    CANCELLED = "cancelled", _("cancelled")


OPEN_STATES = [State.PLANNED, State.DUE, State.CLAIMED, State.HANDING_OVER]
HELD_STATES = [State.CLAIMED, State.HANDING_OVER]

# It did not go the usual way: somebody looks at it, unless it became a call or another try.
ASTRAY = [State.FAILED, State.UNCERTAIN, State.MISSED, State.BOUNCED]


def in_words(states: list[State]) -> models.Func:
    """The condition of an index as it stands there: SQLite uses such an index only where a question repeats it word
    for word, without a value that is filled in later.
    """
    words = ", ".join(f"'{state.value}'" for state in states)
    return models.Func(models.F("state"), template=f"%(expressions)s IN ({words})", output_field=models.BooleanField())


class DueMessageQuerySet(models.QuerySet["DueMessage"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def about(self, subject: tuple[str, int]) -> Self:
        return self.filter(subject_kind=subject[0], subject_id=subject[1])

    def of_person(self, patient: "Patient") -> Self:
        """Also what was planned for a row that was merged into theirs."""
        return self.filter(models.Q(patient=patient) | models.Q(patient__merged_into=patient))

    def open(self) -> Self:
        return self.filter(state__in=OPEN_STATES)

    def sendable(self, *, now: datetime, real_now: datetime) -> Self:
        """Due by the practice's clock, and not held back (after a transient failure) by the real one."""
        free = models.Q(lease_until=None) | models.Q(lease_until__lte=real_now)
        waiting = models.Q(in_words(OPEN_STATES), state__in=[State.PLANNED, State.DUE])
        return self.filter(waiting, free, due_at__lte=now)

    def run_out(self, real_now: datetime) -> Self:
        """Claimed or begun by a sweeper that is not there any more, or too slow."""
        return self.filter(in_words(HELD_STATES), lease_until__lt=real_now)


class DueMessage(models.Model):
    """One thing to say, once: unique per subject, kind, version of the subject, and step."""

    # Each claim and each settling writes a row's entry in every index anew. Nobody asks for a site's messages alone,
    # and a patient's are found by due_message_by_patient.
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="+", db_index=False)
    patient = models.ForeignKey(
        "clinic_patients.Patient", on_delete=models.PROTECT, related_name="messages", db_index=False
    )
    subject_kind = models.CharField(max_length=24)
    subject_id = models.BigIntegerField()
    kind = models.CharField(max_length=32)
    version = models.PositiveIntegerField(default=1)
    # Below 100 as planned; a further try of step n on another channel is n + 100, n + 200, and so on.
    step = models.PositiveSmallIntegerField(default=0)
    due_at = models.DateTimeField()
    not_after = models.DateTimeField()
    state = models.CharField(max_length=12, choices=State, default=State.PLANNED)
    channel = models.CharField(max_length=8, choices=Channel, blank=True)
    sent_to = models.CharField(max_length=254, blank=True)
    # Rises with each claim that is not given back: who settles an older attempt comes too late and changes nothing.
    attempt = models.PositiveIntegerField(default=0)
    # How often a server asked to come back later with this very mail; each time the pause is longer.
    times_refused = models.PositiveSmallIntegerField(default=0)
    times_uncertain = models.PositiveSmallIntegerField(default=0)
    # Real time. Claimed or handing over: until then the row is somebody's. Due: not to be tried before.
    lease_until = models.DateTimeField(null=True, blank=True)
    message_id = models.CharField(max_length=120, blank=True)
    provider_id = models.CharField(max_length=120, blank=True)
    handed_over_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    # Why it is in this state, in a few fixed words without any personal or clinical content.
    reason = models.CharField(max_length=120, blank=True)
    planned_at = models.DateTimeField()

    objects = DueMessageQuerySet.as_manager()

    class Meta:
        db_table = "due_message"
        ordering = ["due_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["subject_kind", "subject_id", "kind", "version", "step"], name="due_message_once"
            ),
            models.CheckConstraint(condition=models.Q(state__in=State.values), name="due_message_state_known"),
            models.CheckConstraint(condition=models.Q(not_after__gte=models.F("due_at")), name="due_message_not_after"),
            models.CheckConstraint(
                condition=~models.Q(state__in=[State.CLAIMED, State.HANDING_OVER])
                | models.Q(lease_until__isnull=False),
                name="due_message_lease",
            ),
        ]
        indexes = [
            # In the very order in which they are claimed: however many are due, a batch reads its own rows only.
            models.Index(
                fields=["due_at", "id"],
                condition=models.Q(state__in=["planned", "due", "claimed", "handing_over"]),
                name="due_message_open",
            ),
            # Few rows at any time, however many are planned: what each tick looks at first.
            models.Index(
                fields=["lease_until"],
                condition=models.Q(state__in=["claimed", "handing_over"]),
                name="due_message_leased",
            ),
            # Few as well: what went astray, for the list of whoever sees to it.
            models.Index(
                fields=["site", "-settled_at"],
                condition=models.Q(state__in=["failed", "uncertain", "missed", "bounced"]),
                name="due_message_astray",
            ),
            models.Index(fields=["patient", "-due_at"], name="due_message_by_patient"),
            # By what the mail provider calls it; one that no provider took has no such name.
            models.Index(fields=["provider_id"], condition=~models.Q(provider_id=""), name="due_message_by_provider"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_kind} {self.subject_id}"

    @property
    def subject(self) -> tuple[str, int]:
        return self.subject_kind, self.subject_id


class Held(NamedTuple):
    """What names a message that a sweeper holds. Everything else is read again right before the hand-over."""

    pk: int
    attempt: int
    subject_kind: str
    subject_id: int
    kind: str
    version: int
    step: int
