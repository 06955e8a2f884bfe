"""What a clinician saw. Append-only: a second look is a second row."""

from django.db import models


class ExaminationRecord(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="examinations")
    # The shape of whitening.screening.examination.to_data: items looked at, findings per tooth, gums.
    findings = models.JSONField()
    note = models.CharField(max_length=1000, blank=True)
    examined_at = models.DateTimeField()
    examined_on = models.DateField()
    # As registered on that day: local rules name professions.
    profession = models.CharField(max_length=24)
    examined_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["examined_at", "pk"]

    def __str__(self) -> str:
        return f"examination of case {self.case_id}"
