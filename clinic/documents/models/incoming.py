"""Papers that came in: one row for each, never changed and never removed. The bytes lie in the files folder."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from clinic.accounts.models import User


class PaperKind(models.TextChoices):
    CONSENT = "consent", _("consent signed on paper")
    LETTER = "letter", _("letter of a doctor or specialist")
    OTHER = "other", _("another paper")


class MediaType(models.TextChoices):
    """What a file may be, found by looking into it: its name and what the browser says count for nothing."""

    PDF = "application/pdf", "PDF"
    JPEG = "image/jpeg", "JPEG"
    PNG = "image/png", "PNG"


ENDINGS = {MediaType.PDF: "pdf", MediaType.JPEG: "jpg", MediaType.PNG: "png"}


class IncomingPaperQuerySet(models.QuerySet["IncomingPaper"]):
    def visible_to(self, user: "User") -> Self:
        """The sites' rows; whether the kind may be read is asked where the file itself is opened."""
        return self.filter(site__memberships__user=user).distinct()

    def standing(self) -> Self:
        """Without those that were filed by mistake."""
        return self.filter(mistake=None)

    def about(self, subject: tuple[str, int | str]) -> Self:
        return self.filter(subject_kind=subject[0], subject_id=str(subject[1]))


class IncomingPaper(models.Model):
    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="incoming_papers")
    patient = models.ForeignKey("clinic_patients.Patient", on_delete=models.PROTECT, related_name="incoming_papers")
    # ("case", its key) where it belongs to one; both empty where it is about the patient alone.
    subject_kind = models.CharField(max_length=40, blank=True)
    subject_id = models.CharField(max_length=64, blank=True)
    kind = models.CharField(_("kind"), max_length=8, choices=PaperKind)
    sender = models.CharField(_("who wrote it"), max_length=120, blank=True)
    # The date that stands on it; a paper may bear none.
    dated_on = models.DateField(_("date on the paper"), null=True, blank=True)
    received_on = models.DateField(_("came in on"))
    media_type = models.CharField(max_length=16, choices=MediaType)
    sha256 = models.CharField(max_length=64)
    byte_size = models.PositiveIntegerField()
    pages = models.PositiveIntegerField(_("pages"))
    filed_at = models.DateTimeField(_("filed"))
    filed_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    objects = IncomingPaperQuerySet.as_manager()

    class Meta:
        ordering = ["-filed_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["patient", "sha256"], name="incoming_once_per_patient"),
            models.CheckConstraint(condition=models.Q(kind__in=PaperKind.values), name="incoming_kind_known"),
            models.CheckConstraint(condition=models.Q(media_type__in=MediaType.values), name="incoming_media_known"),
            models.CheckConstraint(condition=models.Q(sha256__regex=r"^[0-9a-f]{64}$"), name="incoming_sha256_shape"),
            models.CheckConstraint(
                condition=models.Q(byte_size__gt=0) & models.Q(pages__gt=0), name="incoming_not_empty"
            ),
            models.CheckConstraint(
                condition=models.Q(dated_on=None) | models.Q(dated_on__lte=models.F("received_on")),
                name="incoming_dated_before_received",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind=PaperKind.LETTER) | (~models.Q(sender="") & models.Q(dated_on__isnull=False)),
                name="incoming_letter_has_sender_and_date",
            ),
        ]
        indexes = [
            models.Index(fields=["subject_kind", "subject_id"], name="incoming_by_subject"),
            models.Index(fields=["sha256"], name="incoming_by_digest"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}"

    @property
    def file_name(self) -> str:
        """For the reader's own disk: kind and day, no name."""
        ending = ENDINGS[MediaType(self.media_type)]
        return f"{self.kind}-{self.received_on:%Y-%m-%d}-{self.sha256[:5]}.{ending}"

    @property
    def is_mistake(self) -> bool:
        return hasattr(self, "mistake")


class PaperMistake(models.Model):
    """A paper that was filed for the wrong patient, or is none: it stays, and nobody opens it here any more."""

    paper = models.OneToOneField(IncomingPaper, on_delete=models.PROTECT, related_name="mistake")
    why = models.CharField(max_length=300)
    marked_at = models.DateTimeField()
    marked_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=~models.Q(why=""), name="paper_mistake_says_why")]

    def __str__(self) -> str:
        return f"paper {self.paper_id} filed by mistake"
