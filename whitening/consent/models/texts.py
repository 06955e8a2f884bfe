"""The exact words shown to one patient about one plan, frozen with their hash. Append-only."""

from django.db import models


class ConsentText(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="consent_texts")
    plan = models.ForeignKey("whitening_cases.Plan", on_delete=models.PROTECT, related_name="consent_texts")
    # The talk that it says was had: who interpreted, and what was asked, stand in it.
    talk = models.ForeignKey("whitening_consent.Talk", on_delete=models.PROTECT, related_name="consent_texts")
    wording = models.CharField(max_length=24)
    language = models.CharField(max_length=8)
    # The elements in order: [{"number": 1, "heading": …, "paragraphs": […], "source": …}]; sha256 is over these bytes.
    body = models.TextField()
    sha256 = models.CharField(max_length=64)
    frozen_at = models.DateTimeField()

    class Meta:
        ordering = ["frozen_at", "pk"]
        # Another talk is another agreement, also where its words come out the same.
        constraints = [models.UniqueConstraint(fields=["talk", "sha256"], name="consent_text_once")]

    def __str__(self) -> str:
        return f"consent text for plan {self.plan_id}"
