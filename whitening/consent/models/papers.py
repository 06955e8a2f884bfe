"""A consent signed on paper: what one person read on it, and whether another one found the same. Append-only."""

from typing import Self

from django.db import models


class PaperReadingQuerySet(models.QuerySet["PaperReading"]):
    def waiting(self) -> Self:
        """Written down, and neither compared by a second person nor withdrawn by the patient."""
        return self.filter(check_made=None, withdrawal=None)


class PaperReading(models.Model):
    paper = models.ForeignKey("clinic_documents.IncomingPaper", on_delete=models.PROTECT, related_name="readings")
    # The words that were signed: those of the printed form, or of this plan where a blank one was filled in by hand.
    text = models.ForeignKey("whitening_consent.ConsentText", on_delete=models.PROTECT, related_name="readings")
    # The form as it was printed; None where it was a blank one.
    form = models.ForeignKey("clinic_documents.IssuedDocument", on_delete=models.PROTECT, null=True, related_name="+")
    signer_name = models.CharField(max_length=200)
    # Where that is not the patient's name in the register: why it is the patient's all the same.
    name_words = models.CharField(max_length=200, blank=True)
    # A paper bears a day, seldom a time.
    signed_on = models.DateField()
    photographs = models.JSONField(default=dict)
    interpreter_signed = models.BooleanField(default=False)
    read_at = models.DateTimeField()
    read_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    objects = PaperReadingQuerySet.as_manager()

    class Meta:
        ordering = ["read_at", "pk"]
        constraints = [models.CheckConstraint(condition=~models.Q(signer_name=""), name="paper_reading_has_a_name")]

    def __str__(self) -> str:
        return f"reading of paper {self.paper_id}"


class PaperWithdrawal(models.Model):
    """The patient said no while the paper still waited for its second person."""

    reading = models.OneToOneField(PaperReading, on_delete=models.PROTECT, related_name="withdrawal")
    words = models.CharField(max_length=500, blank=True)
    withdrawn_at = models.DateTimeField()
    withdrawn_by = models.CharField(max_length=120)
    # Over everything above and what was read.
    sha256 = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"withdrawal of reading {self.reading_id}"


class PaperCheck(models.Model):
    reading = models.OneToOneField(PaperReading, on_delete=models.PROTECT, related_name="check_made")
    agrees = models.BooleanField()
    words = models.CharField(max_length=300, blank=True)
    checked_at = models.DateTimeField()
    checked_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")
    # Whose reading it was, once more: so the database itself sees that these are two people.
    read_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(checked_by=models.F("read_by")), name="paper_checked_by_another_person"
            ),
            models.CheckConstraint(
                condition=models.Q(agrees=True) | ~models.Q(words=""), name="paper_check_says_what_differs"
            ),
        ]

    def __str__(self) -> str:
        return f"check of reading {self.reading_id}"
