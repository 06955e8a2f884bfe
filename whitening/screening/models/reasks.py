"""The day's re-ask: the real list, each item shown or read aloud, by a named asker. Append-only."""

from django.db import models


class Reask(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="reasks")
    asked_on = models.DateField()
    # Item ids in the order shown, and the reply to each: {"id": "yes" | "no"}.
    shown = models.JSONField()
    replies = models.JSONField()
    changed = models.JSONField(default=list)
    asked_at = models.DateTimeField()
    asked_by = models.CharField(max_length=120)

    class Meta:
        ordering = ["asked_at", "pk"]

    def __str__(self) -> str:
        return f"re-ask of case {self.case_id}"


class ReaskDecision(models.Model):
    """What a clinician decided about a reply that no rule stands behind: ill since, an operation, mouth not open."""

    reask = models.OneToOneField(Reask, on_delete=models.PROTECT, related_name="decision")
    reason = models.CharField(max_length=1000)
    decided_at = models.DateTimeField()
    profession = models.CharField(max_length=24)
    decided_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=~models.Q(reason=""), name="reask_decision_has_a_reason")]

    def __str__(self) -> str:
        return f"decision about re-ask {self.reask_id}"
