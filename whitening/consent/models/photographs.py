"""Photographs: four separate choices, each revocable at any time. The newest row per use holds."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class PhotoUse(models.TextChoices):
    RECORD = "record", _("for my own treatment record")
    TEACHING = "teaching", _("to teach colleagues")
    PUBLICATION = "publication", _("in a professional publication")
    PUBLIC = "public", _("on the practice's website or in social media")


class PhotoChoice(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="photo_choices")
    use = models.CharField(max_length=12, choices=PhotoUse)
    allowed = models.BooleanField()
    chosen_at = models.DateTimeField()
    chosen_by = models.CharField(max_length=120)

    class Meta:
        ordering = ["chosen_at", "pk"]
        constraints = [models.CheckConstraint(condition=models.Q(use__in=PhotoUse.values), name="photo_use_known")]

    def __str__(self) -> str:
        return f"{self.use}: {self.allowed}"
