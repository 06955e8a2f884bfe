"""The interpreter signs that the talk and these very words were interpreted. Append-only."""

from django.db import models

from whitening.consent.models.signing import SignedBy


class InterpreterSignature(models.Model):
    text = models.OneToOneField(
        "whitening_consent.ConsentText", on_delete=models.PROTECT, related_name="interpreter_signature"
    )
    method = models.CharField(max_length=8, choices=SignedBy)
    signer_name = models.CharField(max_length=200)
    language = models.CharField(max_length=60)
    strokes = models.JSONField(default=list, blank=True)
    # Of the telephone: who heard the interpreter say so.
    heard_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, null=True, related_name="+")
    # On paper: beside the patient's own signature.
    reading = models.OneToOneField(
        "whitening_consent.PaperReading", on_delete=models.PROTECT, null=True, related_name="interpreter_signature"
    )
    zone = models.CharField(max_length=64)
    signed_at = models.DateTimeField()
    sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(method__in=SignedBy.values), name="interpreter_signature_method_known"
            ),
            models.CheckConstraint(
                condition=~models.Q(signer_name="") & ~models.Q(language=""), name="interpreter_signature_named"
            ),
            models.CheckConstraint(
                condition=models.Q(method="heard", heard_by__isnull=False)
                | (~models.Q(method="heard") & models.Q(heard_by__isnull=True)),
                name="interpreter_heard_by_somebody",
            ),
            models.CheckConstraint(
                condition=models.Q(method="paper", reading__isnull=False)
                | (~models.Q(method="paper") & models.Q(reading__isnull=True)),
                name="interpreter_on_paper_was_read",
            ),
        ]

    def __str__(self) -> str:
        return f"interpreter's signature under text {self.text_id}"
