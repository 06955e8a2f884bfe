"""What the patient answered. A draft may change; answers that were handed in never do."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class Source(models.TextChoices):
    LINK = "link", _("by the patient, through the private link")
    TABLET = "tablet", _("by the patient, on the practice's tablet")
    PHONE = "phone", _("read out on the telephone, typed by staff")
    PAPER = "paper", _("from paper, typed by staff")
    CHAIR = "chair", _("asked at the chair")


class AnswerDraft(models.Model):
    """What has been answered so far, so that the patient can stop and go on later."""

    case = models.OneToOneField("whitening_cases.Case", on_delete=models.CASCADE, related_name="answer_draft")
    questionnaire = models.CharField(max_length=24)
    values = models.JSONField(default=dict)
    # Question id -> the visit to the private page in which it was answered: reading an answer back
    # in another visit needs the code, since whoever holds the link might not be the patient.
    given_in = models.JSONField(default=dict)
    read_ahead = models.BooleanField(default=False)
    changed_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"draft of case {self.case_id}"


class AnswerSet(models.Model):
    """Append-only: the original answers stay visible whatever is answered later."""

    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="answer_sets")
    questionnaire = models.CharField(max_length=24)
    language = models.CharField(max_length=8)
    source = models.CharField(max_length=8, choices=Source)
    # Question id -> {"value", "given_at", "given_on"}: a later set carries over what was not asked again.
    values = models.JSONField()
    # The day of the oldest answer in it: the whole set is only as fresh as that.
    given_on = models.DateField()
    handed_in_at = models.DateTimeField()
    handed_in_by = models.CharField(max_length=120)

    class Meta:
        ordering = ["handed_in_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(source__in=Source.values), name="answer_set_source_known")
        ]

    def __str__(self) -> str:
        return f"answers of case {self.case_id}"
