"""What it costs, what is in it, and until when that holds. Append-only: a new plan, or one talked through again
after its quote has run out, gets a new quote."""

from django.db import models


class Quote(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="quotes")
    plan = models.ForeignKey("whitening_cases.Plan", on_delete=models.PROTECT, related_name="quotes")
    amount = models.DecimalField(max_digits=9, decimal_places=2)
    currency = models.CharField(max_length=3)
    included = models.TextField(max_length=1000, blank=True)
    not_included = models.TextField(max_length=1000, blank=True)
    redo_and_refund = models.TextField(max_length=1000, blank=True)
    valid_until = models.DateField()
    quoted_at = models.DateTimeField()
    quoted_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["quoted_at", "pk"]
        constraints = [models.CheckConstraint(condition=models.Q(amount__gte=0), name="quote_not_negative")]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency}"
