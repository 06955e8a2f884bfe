"""A deposit as somebody says it happened: asked for, received, returned, kept. Nothing is paid here. Append-only."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class DepositStep(models.TextChoices):
    ASKED = "asked", _("asked for")
    RECEIVED = "received", _("received")
    RETURNED = "returned", _("returned")
    KEPT = "kept", _("kept by the practice")


class Deposit(models.Model):
    quote = models.ForeignKey("whitening_consent.Quote", on_delete=models.PROTECT, related_name="deposits")
    step = models.CharField(max_length=8, choices=DepositStep)
    # In the quote's currency.
    amount = models.DecimalField(max_digits=9, decimal_places=2)
    words = models.CharField(max_length=300, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["recorded_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(step__in=DepositStep.values), name="deposit_step_known"),
            models.CheckConstraint(condition=models.Q(amount__gt=0), name="deposit_of_something"),
            models.CheckConstraint(
                condition=~models.Q(step="kept") | ~models.Q(words=""), name="deposit_kept_for_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step} {self.amount}"
