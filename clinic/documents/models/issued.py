"""The archive: one row for each file that was issued, never changed and never removed."""

from typing import TYPE_CHECKING, Self

from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.documents import codes, kinds

if TYPE_CHECKING:
    from clinic.accounts.models import User


class IssuedDocumentQuerySet(models.QuerySet["IssuedDocument"]):
    def visible_to(self, user: "User") -> Self:
        """The sites' rows; that a kind is clinical is asked where the file itself is opened."""
        return self.filter(site__memberships__user=user).distinct()

    def about(self, subject: tuple[str, int | str]) -> Self:
        return self.filter(subject_kind=subject[0], subject_id=str(subject[1]))


class IssuedDocument(models.Model):
    """What was handed out: the exact bytes lie in the files folder under their SHA-256."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="documents")
    patient = models.ForeignKey(
        "clinic_patients.Patient", on_delete=models.PROTECT, null=True, blank=True, related_name="documents"
    )
    kind = models.CharField(_("kind"), max_length=40)
    # Never a name: it stands in the file's properties and in lists seen by the desk.
    title = models.CharField(_("title"), max_length=200)
    language = models.CharField(_("language"), max_length=8)
    large_print = models.BooleanField(_("large print"), default=False)
    subject_kind = models.CharField(max_length=40)
    subject_id = models.CharField(max_length=64)
    template_version = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64, unique=True)
    byte_size = models.PositiveIntegerField()
    pages = models.PositiveIntegerField(_("pages"))
    # Characters that our fonts cannot draw; whoever hands the sheet out writes them in by hand.
    undrawn = models.CharField(_("could not be printed"), max_length=200, blank=True)
    verify_code = models.CharField(max_length=codes.LENGTH, unique=True)
    file_identifier = models.CharField(max_length=32, unique=True)
    # Over what it says, without code and date, of a kind that is made anew when that changes; else empty.
    words_sha256 = models.CharField(max_length=64, blank=True)
    issued_at = models.DateTimeField(_("issued"))
    issued_by_id = models.CharField(max_length=64)
    issued_by_name = models.CharField(_("issued by"), max_length=200, blank=True)

    objects = IssuedDocumentQuerySet.as_manager()

    class Meta:
        ordering = ["-issued_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(sha256__regex=r"^[0-9a-f]{64}$"), name="document_sha256_shape"),
            models.CheckConstraint(
                condition=models.Q(verify_code__regex=rf"^[{codes.ALPHABET}]{{{codes.LENGTH}}}$"),
                name="document_code_shape",
            ),
            models.CheckConstraint(condition=models.Q(byte_size__gt=0), name="document_not_empty"),
            models.CheckConstraint(condition=models.Q(pages__gt=0), name="document_has_pages"),
            models.CheckConstraint(condition=models.Q(template_version__gt=0), name="document_template_version"),
            models.CheckConstraint(
                condition=~models.Q(kind="") & ~models.Q(subject_kind="") & ~models.Q(language=""),
                name="document_is_about_something",
            ),
        ]
        indexes = [
            models.Index(fields=["subject_kind", "subject_id"], name="document_by_subject"),
            models.Index(fields=["patient", "issued_at"], name="document_by_patient"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}"

    @property
    def word(self) -> str | Promise:
        return kinds.word_of(self.kind)

    @property
    def is_clinical(self) -> bool:
        return kinds.is_clinical(self.kind)

    @property
    def grouped_code(self) -> str:
        return codes.grouped(self.verify_code)

    @property
    def file_name(self) -> str:
        """For the reader's own disk: kind and day, no name."""
        return f"{self.kind.replace('_', '-')}-{self.issued_at:%Y-%m-%d}-{self.verify_code[:5]}.pdf"
