"""What the patient reads at once after a worrying answer. Emergency words come first and name whom to call."""

from collections.abc import Sequence

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from whitening.recall.triage import Triage, Urgency

_WORDS: dict[str, StrOrPromise] = {
    "swelling": _(
        "Swelling of face, lips, tongue or throat, or trouble breathing or swallowing, is an emergency. "
        "Call the emergency number now, then us."
    ),
    "eye": _(
        "Eye pain, blurred sight or light that hurts needs an eye doctor today. Rinse with clean water until then."
    ),
    "strong_pain": _("Pain of seven or more should not wait. Call us now."),
    "one_tooth_or_waking": _("Pain that grows, wakes you or sits in one tooth should be looked at today. Call us."),
    "sensitive": _(
        "This is more than most people feel after two days. Lukewarm drinks and a paste for sensitive teeth can help. "
        "A clinician calls you."
    ),
    "sensitive_day_four": _("After four days most teeth are quiet again. We would like to see you. Call us."),
    "sensitive_after_week": _("After a week teeth should be quiet again. We call you to find a time to look."),
    "raw_gums": _("Sore, raw or spreading gums should be looked at within a day. Rinse with lukewarm salt water."),
    "white_patch": _("A white patch on the gum usually fades within a day or so. Salt-water rinses can soothe it."),
    "painkillers": _("Do not take more than the label says. Ask a clinician or a pharmacist. A clinician calls you."),
    "unhappy": _("Thank you for saying so. We call you to talk about it."),
    "call_me": _("We call you."),
    "mild": _("A little sensitivity is usual in the first days and mostly goes away by itself."),
}
_ALL_WELL = _("Good to hear that all is well. Should that change, tell us here or call us, at any time.")


def advice(triage: Triage, *, sensitivity: int | None) -> Sequence[StrOrPromise]:
    """Worst first, each sentence once. A worrying answer gets no soothing words beside it.

    Who feels nothing is not told that feeling something is usual.
    """
    fired = sorted(triage.rules, key=lambda rule: -rule.urgency)
    shown = [rule for rule in fired if rule.urgency > Urgency.ROUTINE or triage.urgency == Urgency.ROUTINE]
    if sensitivity == 0:
        shown = [rule for rule in shown if rule.advice != "mild"]
        return list(dict.fromkeys(_WORDS[rule.advice] for rule in shown)) or [_ALL_WELL]
    return list(dict.fromkeys(_WORDS[rule.advice] for rule in shown))
