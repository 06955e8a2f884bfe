"""Follow-ups in the trail, each entry with its sentence."""

from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


def register() -> None:
    verbs.register(
        {
            "recall.planned": _("planned a follow-up"),
            "recall.replied": _("said how they are"),
            "recall.reply_typed": _("typed in how the patient says they are"),
            "recall.escalated": _("passed an answer on to a person"),
            "recall.raised_again": _("raised an answer again that nobody had taken"),
            "recall.handed_on": _("gave it to a colleague to see to"),
            "recall.taken": _("took an answer to see to it"),
            "recall.escalation_closed": _("settled what was passed on"),
            "recall.called": _("tried to call"),
            "recall.became_a_call": _("turned a silent check into a call"),
            "recall.not_needed": _("ended a follow-up that is not needed any more"),
            "recall.review_done": _("closed the follow-up of the month review"),
            "recall.planned_again": _("planned a follow-up again that had been ended by mistake"),
            "recall.recall_planned": _("planned to ask the patient back"),
            "recall.asked_back": _("asked the patient back"),
            "recall.recall_opened_again": _("found that the visit of a patient who was asked back was lost"),
            "recall.recall_ended": _("ended asking the patient back"),
            "recall.reviewed": _("recorded the month review"),
        }
    )
