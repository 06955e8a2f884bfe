"""Signature, countersignature, withdrawal: each its own append-only row; the newest facts decide."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class SignedBy(models.TextChoices):
    STROKES = "strokes", _("by hand on the screen")
    TYPED = "typed", _("by typing the name, with the intent declared")
    PAPER = "paper", _("by hand on paper")
    # Of an interpreter on the telephone, who has no screen to sign on.
    HEARD = "heard", _("by word on the telephone, written down by staff")


class Signature(models.Model):
    text = models.ForeignKey("whitening_consent.ConsentText", on_delete=models.PROTECT, related_name="signatures")
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="signatures")
    plan = models.ForeignKey("whitening_cases.Plan", on_delete=models.PROTECT, related_name="signatures")
    method = models.CharField(max_length=8, choices=SignedBy)
    signer_name = models.CharField(max_length=200)
    # Vector strokes with timing: [[[x, y, ms], …], …] in a box of 1000 by 300 units.
    strokes = models.JSONField(default=list, blank=True)
    # What was chosen beside the signature; what holds later stands in PhotoChoice.
    photographs = models.JSONField(default=dict)
    # "phone" or "tablet or computer": the class of device, nothing that tracks one.
    device = models.CharField(max_length=24)
    zone = models.CharField(max_length=64)
    signed_at = models.DateTimeField()
    # The health answers that the consent says are true, as they stood then; None where none were handed in yet.
    answers = models.ForeignKey("whitening_screening.AnswerSet", on_delete=models.PROTECT, null=True, related_name="+")
    # Signed on paper: what one person read there and another one confirmed.
    reading = models.OneToOneField(
        "whitening_consent.PaperReading", on_delete=models.PROTECT, null=True, related_name="signature"
    )
    # Over everything above, the hash of the text, of the answers and of the paper: see whitening.consent.sealing.
    sha256 = models.CharField(max_length=64)
    document = models.ForeignKey(
        "clinic_documents.IssuedDocument", on_delete=models.PROTECT, null=True, related_name="+"
    )

    class Meta:
        ordering = ["signed_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(method__in=["strokes", "typed", "paper"]), name="signature_method_known"
            ),
            models.CheckConstraint(
                condition=models.Q(method="paper", reading__isnull=False, document__isnull=True)
                | (~models.Q(method="paper") & models.Q(reading__isnull=True)),
                name="signature_on_paper_was_read",
            ),
            models.CheckConstraint(condition=~models.Q(signer_name=""), name="signature_has_a_name"),
        ]

    def __str__(self) -> str:
        return f"signature under text {self.text_id}"


class Countersignature(models.Model):
    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="countersignature")
    countersigned_at = models.DateTimeField()
    countersigned_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")
    # Over everything above and the signature's own seal.
    sha256 = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"countersignature of {self.signature_id}"


class Withdrawal(models.Model):
    """One tap, at any moment, by the patient or by staff on the patient's word."""

    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="withdrawal")
    words = models.CharField(max_length=500, blank=True)
    withdrawn_at = models.DateTimeField()
    withdrawn_by = models.CharField(max_length=120)
    # Over everything above and the signature's own seal.
    sha256 = models.CharField(max_length=64)

    def __str__(self) -> str:
        return f"withdrawal of {self.signature_id}"
