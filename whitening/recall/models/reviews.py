"""The review a month later. Append-only."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class Satisfaction(models.IntegerChoices):
    """Five words; the number is only their order."""

    VERY_UNHAPPY = 1, _("very unhappy")
    UNHAPPY = 2, _("unhappy")
    NEITHER = 3, _("neither")
    HAPPY = 4, _("happy")
    VERY_HAPPY = 5, _("very happy")


class ReviewDecision(models.TextChoices):
    FINISHED = "finished", _("finished")
    TOP_UP = "top_up", _("top-up: a new case with its own examination")
    RESTORE = "restore", _("fillings or crowns to match next")


class Review(models.Model):
    case = models.OneToOneField("whitening_cases.Case", on_delete=models.PROTECT, related_name="review")
    booking = models.ForeignKey("clinic_diary.Booking", on_delete=models.PROTECT, null=True, related_name="+")
    shade = models.ForeignKey("whitening_cases.ShadeReading", on_delete=models.PROTECT, related_name="+")
    sensitivity = models.PositiveSmallIntegerField(_("sensitivity, 0 to 10"))
    satisfaction = models.PositiveSmallIntegerField(_("how happy with the colour"), choices=Satisfaction)
    gums_quiet = models.BooleanField(_("gums are quiet"))
    words = models.CharField(_("in the patient's words"), max_length=1000, blank=True)
    decision = models.CharField(_("decision"), max_length=12, choices=ReviewDecision)
    is_late = models.BooleanField(default=False)
    reviewed_at = models.DateTimeField()
    reviewed_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(sensitivity__lte=10), name="review_sensitivity_0_to_10"),
            models.CheckConstraint(
                condition=models.Q(satisfaction__gte=1) & models.Q(satisfaction__lte=5), name="review_five_words"
            ),
            models.CheckConstraint(
                condition=models.Q(decision__in=ReviewDecision.values), name="review_decision_known"
            ),
        ]

    def __str__(self) -> str:
        return f"review of case {self.case_id}"
