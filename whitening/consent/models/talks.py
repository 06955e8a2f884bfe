"""The talk before the signature: it is the consent; the signature only records it. Append-only."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from clinic.accounts.languages import name_of


class InterpreterKind(models.TextChoices):
    NONE = "none", _("no interpreter was needed")
    PRESENT = "present", _("an interpreter was in the room")
    PHONE = "phone", _("an interpreter was on the telephone")
    RELATIVE = "relative", _("a grown-up relative interpreted (a caution)")


class Talk(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="talks")
    plan = models.ForeignKey("whitening_cases.Plan", on_delete=models.PROTECT, related_name="talks")
    # What matters to this patient, and what they asked, in their own words.
    what_matters = models.TextField(_("what matters to the patient"), max_length=1000, blank=True)
    questions = models.TextField(_("questions and the answers given"), max_length=2000, blank=True)
    can_decide = models.BooleanField(_("understands, weighs and decides for themselves"))
    # In which the patient reads and signs: a language of the consent, chosen while it was talked through.
    language = models.CharField(_("language of the consent"), max_length=8)
    interpreter = models.CharField(_("interpreter"), max_length=12, choices=InterpreterKind)
    interpreter_name = models.CharField(_("interpreter's name"), max_length=120, blank=True)
    interpreter_language = models.CharField(_("language"), max_length=60, blank=True)
    interpreter_service = models.CharField(_("service"), max_length=120, blank=True)
    talked_at = models.DateTimeField()
    talked_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["talked_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(interpreter__in=InterpreterKind.values), name="talk_interpreter_known"
            ),
            models.CheckConstraint(
                condition=models.Q(interpreter="none") | ~models.Q(interpreter_name=""), name="talk_interpreter_named"
            ),
        ]

    def __str__(self) -> str:
        return f"talk about plan {self.plan_id}"

    @property
    def language_name(self) -> str:
        """As in "German" for "de", in the reader's own language."""
        return name_of(self.language)
