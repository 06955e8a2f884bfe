"""Private links: one purpose, one subject, a window of time; only the hash of the secret is kept."""

from datetime import datetime

from django.db import models
from django.utils.translation import gettext_lazy as _

TRIES = 5


class Ended(models.TextChoices):
    DONE = "done", _("its purpose is done")
    NEWER = "newer", _("a newer link was made")
    BIRTH_TRIES = "birth_tries", _("five wrong dates of birth")
    NOT_SENT = "not_sent", _("its message did not go out")
    TAKEN_BACK = "taken_back", _("taken back by the practice")


class PrivateLink(models.Model):
    """Made at hand-over; dies when its purpose is done or a newer one is issued for the same subject."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey("clinic_patients.Patient", on_delete=models.PROTECT, related_name="links")
    purpose = models.CharField(max_length=24)
    subject_kind = models.CharField(max_length=24)
    subject_id = models.BigIntegerField()
    token_hash = models.CharField(max_length=64, unique=True)
    # A link printed as a QR code only writes: it answers the check and shows no record.
    write_only = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    opens_at = models.DateTimeField()
    closes_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=12, choices=Ended, blank=True)
    birth_tries = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(closes_at__gt=models.F("opens_at")), name="link_closes_later"),
            models.CheckConstraint(condition=models.Q(birth_tries__lte=TRIES), name="link_five_birth_tries"),
            models.CheckConstraint(
                condition=models.Q(ended_at=None, ended_because="")
                | (models.Q(ended_at__isnull=False) & models.Q(ended_because__in=Ended.values)),
                name="link_ended_for_a_reason",
            ),
        ]
        indexes = [models.Index(fields=["subject_kind", "subject_id", "purpose"], name="link_by_subject")]

    def __str__(self) -> str:
        return f"{self.purpose} {self.subject_kind} {self.subject_id}"

    def is_open(self, now: datetime) -> bool:
        return self.ended_at is None and self.opens_at <= now < self.closes_at


class LinkVisit(models.Model):
    """One browser that exchanged a link for a short-lived cookie; only the hash of the cookie is kept.

    Its times are real time: the demo's clock must not lengthen a visit or a code.
    """

    link = models.ForeignKey(PrivateLink, on_delete=models.CASCADE, related_name="visits")
    key_hash = models.CharField(max_length=64, unique=True)
    began_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    # Passed the wrong-recipient check (the date of birth), and the code sent to the known channel.
    known_at = models.DateTimeField(null=True, blank=True)
    # Whose page it was when it was opened, where that record was joined with another since: see visits.
    opened_for = models.ForeignKey(
        "clinic_patients.Patient", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    code_passed_at = models.DateTimeField(null=True, blank=True)
    code_hash = models.CharField(max_length=64, blank=True)
    code_made_at = models.DateTimeField(null=True, blank=True)
    code_tries = models.PositiveSmallIntegerField(default=0)
    codes_asked = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["-began_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(expires_at__gt=models.F("began_at")), name="visit_expires_later"),
            models.CheckConstraint(condition=models.Q(code_tries__lte=TRIES), name="visit_five_code_tries"),
            models.CheckConstraint(
                condition=models.Q(code_passed_at=None) | models.Q(known_at__isnull=False),
                name="visit_known_before_code",
            ),
        ]

    def __str__(self) -> str:
        return f"visit {self.pk} of link {self.link_id}"
