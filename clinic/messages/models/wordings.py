"""A practice's own words of its messages. Each row stays as it was written; the newest of its kind holds."""

from typing import Self

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.patients.models import WRITTEN, Channel

SUBJECT_LENGTH, TEXT_LENGTH = 120, 4000


class WordingQuerySet(models.QuerySet["Wording"]):
    def newest(self) -> Self:
        """Of each kind, channel and language the last; also where it goes back to the program's words."""
        alike = ("kind", "channel", "language")
        same = {name: models.OuterRef(name) for name in alike}
        later = Wording.objects.filter(**same, number__gt=models.OuterRef("number"))
        return self.filter(~models.Exists(later))


class Wording(models.Model):
    """Without words it says that the program's own hold again."""

    kind = models.CharField(max_length=32)
    channel = models.CharField(max_length=8, choices=Channel)
    language = models.CharField(max_length=8)
    number = models.PositiveIntegerField()
    # Of a mail only.
    subject = models.CharField(_("subject"), max_length=SUBJECT_LENGTH, blank=True)
    text = models.TextField(_("text"), max_length=TEXT_LENGTH, blank=True)
    written_at = models.DateTimeField()
    written_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    objects = WordingQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "channel", "language", "number"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "channel", "language", "number"], name="wording_number_once"),
            models.CheckConstraint(condition=models.Q(number__gte=1), name="wording_number_from_1"),
            models.CheckConstraint(condition=models.Q(channel__in=list(WRITTEN)), name="wording_of_a_written_channel"),
            models.CheckConstraint(
                condition=models.Q(text="", subject="")
                | (~models.Q(text="") & models.Q(channel=Channel.TEXT, subject=""))
                | (~models.Q(text="") & ~models.Q(subject="") & models.Q(channel=Channel.EMAIL)),
                name="wording_whole_or_none",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.channel} {self.language} {self.number}"
