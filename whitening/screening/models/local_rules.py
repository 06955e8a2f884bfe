"""What the practice wrote over a local rule of the program: each change is the next version. Append-only."""

from typing import Final

from django.db import models
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from whitening.screening.grades import QUALITY_LABELS, Quality

REASON_LENGTH: Final = 500


class LocalRuleChange(models.Model):
    """Holds for every site that has chosen the place, as products do. The newest version of a code is in force."""

    code = models.CharField(max_length=16)
    version = models.PositiveIntegerField()
    # The version of the shipped row that was there then.
    made_over = models.CharField(max_length=8)
    # Columns that differ from that row, as the file of the program writes them.
    values = models.JSONField(default=dict, blank=True)
    reason = models.CharField(_("why"), max_length=REASON_LENGTH)
    source = models.CharField(_("where it was looked up"), max_length=REASON_LENGTH)
    quality = models.CharField(_("how it was looked up"), max_length=20)
    checked_on = models.DateField(_("checked on"))
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["code", "version"]
        constraints = [
            models.UniqueConstraint(fields=["code", "version"], name="local_rule_version_once"),
            models.CheckConstraint(condition=models.Q(version__gte=1), name="local_rule_version_from_1"),
            models.CheckConstraint(condition=~models.Q(reason=""), name="local_rule_has_a_reason"),
            models.CheckConstraint(condition=~models.Q(source=""), name="local_rule_has_a_source"),
        ]

    def __str__(self) -> str:
        return f"{self.code}, own version {self.version}"

    @property
    def label(self) -> str:
        """As a plan keeps it: the shipped row's version that it was made over, and its own."""
        return f"{self.made_over}.{self.version}"

    @property
    def quality_label(self) -> StrOrPromise:
        return QUALITY_LABELS[Quality(self.quality)]
