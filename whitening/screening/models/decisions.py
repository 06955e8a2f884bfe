"""What a clinician decided about one finding: who, why, when, on which basis. Append-only."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class DecisionSort(models.TextChoices):
    """The same codes as whitening.screening.decisions.DecisionKind, as the database checks them."""

    CLEARED = "cleared", _("may go on")
    EXAMINED = "examined", _("examined, and not so")
    STANDS = "stands", _("stands: not going ahead")


class Decision(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="decisions")
    rule = models.CharField(max_length=12)
    # One number for each family of rules.
    rules_version = models.CharField(max_length=255)
    sort = models.CharField(max_length=12, choices=DecisionSort)
    # A decision holds only while the finding rests on the same answers and the same examination.
    basis = models.CharField(max_length=200)
    reason = models.CharField(_("why"), max_length=1000)
    evidence = models.CharField(_("evidence"), max_length=1000, blank=True)
    # A paper that came in, where one was read for it.
    paper = models.ForeignKey(
        "clinic_documents.IncomingPaper", on_delete=models.PROTECT, null=True, related_name="decisions"
    )
    decided_at = models.DateTimeField()
    decided_on = models.DateField()
    profession = models.CharField(max_length=24)
    decided_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["decided_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(sort__in=DecisionSort.values), name="decision_sort_known"),
            models.CheckConstraint(condition=~models.Q(reason=""), name="decision_has_a_reason"),
            models.CheckConstraint(
                condition=~models.Q(sort=DecisionSort.EXAMINED) | ~models.Q(evidence=""),
                name="decision_examined_has_evidence",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.rule} {self.sort}"
