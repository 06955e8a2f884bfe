"""That a clinician read everything that is known, and signed what it came to. Append-only: what was known when."""

from django.db import models


class AssessmentSignature(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="assessment_signatures")
    # One number for each family of rules.
    rules_version = models.CharField(max_length=255)
    # The shape of whitening.screening.signed.to_data: the findings as they stood, with their basis and state.
    outcome = models.JSONField()
    # SHA-256 of that, in hexadecimal: another outcome is another matter to read.
    sha256 = models.CharField(max_length=64)
    signed_at = models.DateTimeField()
    signed_on = models.DateField()
    profession = models.CharField(max_length=24)
    signed_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["signed_at", "pk"]

    def __str__(self) -> str:
        return f"assessment of case {self.case_id}, {self.signed_on}"
