"""Calls that somebody at the practice has to make because no message can do it."""

from datetime import datetime
from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class Outcome(models.TextChoices):
    REACHED = "reached", _("reached")
    LEFT_MESSAGE = "left_message", _("left a message")
    WRONG_NUMBER = "wrong_number", _("wrong number")
    WANTS_VISIT = "wants_visit", _("wants a visit")
    NOT_NEEDED = "not_needed", _("no longer needed")
    POSTED = "posted", _("posted as a letter")
    # By the program, and never by how a call went.
    GONE = "gone", _("not made: noted as died or moved away")
    UNWANTED = "unwanted", _("no longer wanted by the patient")
    OVER = "over", _("not made: over by itself")


# By the program (clinic.messages.actions.byhand.call_off); nobody has said anything to anybody.
BY_ITSELF = frozenset({Outcome.GONE, Outcome.UNWANTED, Outcome.OVER})
# How a call itself can have gone.
BY_CALL = [outcome for outcome in Outcome if outcome not in {Outcome.POSTED, *BY_ITSELF}]


class Why(models.TextChoices):
    NO_CHANNEL = "no_channel", _("no e-mail or mobile number to write to")
    PREFERS = "prefers", _("wants to be called or written to on paper")
    FAILED = "failed", _("the message could not be handed over")
    BOUNCED = "bounced", _("mail to the address comes back")
    MISSED = "missed", _("the message would have come too late")
    UNCERTAIN = "uncertain", _("nobody knows whether the message went out")
    OPTED_OUT = "opted_out", _("does not want such messages")
    OTHER_PERSON = "other_person", _("went to somebody else: two records had been joined by mistake")


class CallQuerySet(models.QuerySet["Call"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__memberships__user=user).distinct()

    def open(self) -> Self:
        return self.filter(settled_at=None)

    def to_make(self, *, now: datetime) -> Self:
        """Without what a letter can still say in time, and what lies printed."""
        return self.open().filter(models.Q(post_by=None) | models.Q(post_by__lte=now), batch=None)

    def to_print(self, *, now: datetime) -> Self:
        return self.open().filter(post_by__gt=now, batch=None)

    def on_paper(self, *, now: datetime) -> Self:
        """To be printed, or printed and not in the post yet."""
        return self.open().filter(models.Q(batch__isnull=False) | models.Q(post_by__gt=now))


class Call(models.Model):
    """Comes from a due message that could not reach the patient; open until somebody says how it went."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey("clinic_patients.Patient", on_delete=models.PROTECT, related_name="calls")
    message = models.OneToOneField("clinic_messages.DueMessage", on_delete=models.PROTECT, related_name="call")
    why = models.CharField(max_length=12, choices=Why)
    wanted_at = models.DateTimeField()
    # Until then a letter says it as well; empty where none can, or may.
    post_by = models.DateTimeField(null=True, blank=True)
    batch = models.ForeignKey(
        "clinic_messages.LetterBatch", on_delete=models.PROTECT, null=True, blank=True, related_name="calls"
    )
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.CharField(max_length=120, blank=True)
    outcome = models.CharField(max_length=12, choices=Outcome, blank=True)

    objects = CallQuerySet.as_manager()

    class Meta:
        ordering = ["wanted_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(why__in=Why.values), name="call_why_known"),
            models.CheckConstraint(
                condition=models.Q(settled_at=None, outcome="")
                | (models.Q(settled_at__isnull=False) & models.Q(outcome__in=Outcome.values)),
                name="call_settled_with_an_outcome",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "wanted_at"], condition=models.Q(settled_at=None), name="call_open"),
        ]

    def __str__(self) -> str:
        return f"call {self.pk} about message {self.message_id}"
