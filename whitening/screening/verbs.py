"""Entries about questions, examination and decisions in the trail, each with its sentence."""

from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


def register() -> None:
    verbs.register(
        {
            "screening.answered": _("handed in the answers"),
            "screening.examined": _("wrote down an examination"),
            "screening.decided": _("decided about a finding"),
            "screening.assessment_signed": _("read all answers and findings, and signed"),
            "screening.letter_written": _("wrote to a doctor or specialist"),
            "screening.reply_attached": _("filed the answer to a letter"),
            "screening.asked_again": _("asked again on the day"),
            "screening.local_rule_changed": _("changed a local rule"),
            "screening.reask_decided": _("decided about what was new on the day"),
        }
    )
