"""What the patient reads at once after an answer: one thing to do now, then why and what helps meanwhile.

Only the thing to do says who calls whom. The reasons never do, so no two of them can contradict each other.
"""

from collections.abc import Mapping, Sequence
from enum import StrEnum

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from whitening.recall.triage import Triage, Urgency


class ToDo(StrEnum):
    """The worst grade decides; its words stand in recall/_to_do.html."""

    EMERGENCY = "emergency"
    CALL_NOW = "call_now"
    CALL_TODAY = "call_today"
    WE_CALL = "we_call"
    NOTHING = "nothing"


_LUKEWARM = _("Lukewarm drinks and a paste for sensitive teeth can help.")
_REASONS: Mapping[str, Sequence[StrOrPromise]] = {
    "swelling": [
        _("A rash, swelling of face, lips, tongue or throat, or trouble breathing or swallowing is an emergency.")
    ],
    "eye": [
        _("Eye pain, blurred sight or light that hurts needs an eye doctor today. Rinse with clean water until then.")
    ],
    "strong_pain": [_("Pain of seven or more should not wait.")],
    "one_tooth_or_waking": [_("Pain that grows, wakes you or sits in one tooth should be looked at within a day.")],
    "sensitive": [
        _("This is more than most people feel."),
        _LUKEWARM,
    ],
    "sensitive_day_four": [
        _("After four days most teeth are quiet again, so we would like to look at yours."),
        _LUKEWARM,
    ],
    "sensitive_after_week": [
        _("After a week teeth should be quiet again, so we would like to look at yours."),
        _LUKEWARM,
    ],
    "raw_gums": [
        _("Sore, raw or spreading gums should be looked at within a day. Rinse with lukewarm salt water until then.")
    ],
    "white_patch": [_("A white patch on the gum usually fades within a day or so. Salt-water rinses can soothe it.")],
    "painkillers": [_("Do not take more for the pain than the label says.")],
    "unhappy": [_("Thank you for saying that you are not happy yet. We want to hear more about it.")],
    # Who asks for a call is told so by the thing to do.
    "call_me": [],
    "mild": [_("A little sensitivity is usual in the first days and mostly goes away by itself.")],
}
_ALL_WELL = _("Good to hear that all is well. Should that change, tell us here or call us, at any time.")
# The same teeth at a later day: only the last one that fired is said.
_SAID_BY: Mapping[str, frozenset[str]] = {
    "sensitive": frozenset({"sensitive_day_four", "sensitive_after_week"}),
    "sensitive_day_four": frozenset({"sensitive_after_week"}),
}


_SMOKE = _("Smoke can bring stains back: every day without it helps.")


def to_do(triage: Triage) -> ToDo:
    """What is asked of the patient, or promised: by the worst rules alone. Calling comes before waiting for a call."""
    if not triage.worries:
        return ToDo.NOTHING
    if triage.urgency >= Urgency.URGENT:
        return ToDo.EMERGENCY if triage.urgency is Urgency.EMERGENCY else ToDo.CALL_NOW
    worst = [rule for rule in triage.rules if rule.urgency == triage.urgency]
    return ToDo.CALL_TODAY if any(rule.patient_calls for rule in worst) else ToDo.WE_CALL


def reasons(triage: Triage, *, sensitivity: int | None, smoked: bool = False) -> list[StrOrPromise]:
    """Worst first, each sentence once. A worrying answer gets no soothing words beside it.

    Beside an emergency nothing stands that could wait, and nobody who must not wait is told what to drink.
    Who feels nothing is not told that feeling something is usual.
    """
    fired = {rule.advice for rule in triage.rules}
    shown = [
        rule.advice
        for rule in sorted(triage.rules, key=lambda rule: -rule.urgency)
        if rule.urgency >= _least(triage)
        and not _SAID_BY.get(rule.advice, frozenset()) & fired
        and not (rule.advice == "mild" and sensitivity == 0)
    ]
    about_smoke = [_SMOKE] if smoked and not triage.worries else []
    if not shown and sensitivity == 0:
        return [_ALL_WELL, *about_smoke]
    kept_back = {_LUKEWARM} if triage.urgency >= Urgency.URGENT else set()
    said = dict.fromkeys(sentence for advice in shown for sentence in _REASONS[advice])
    return [sentence for sentence in said if sentence not in kept_back] + about_smoke


def _least(triage: Triage) -> Urgency:
    """How urgent a rule must be for its reason to be said."""
    if triage.urgency is Urgency.EMERGENCY:
        return Urgency.URGENT
    return Urgency.WITHIN_DAYS if triage.worries else Urgency.ROUTINE
