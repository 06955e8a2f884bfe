"""Which decision a person may record about a finding, and which ones hold.

A must-not ends by a changed plan or by a dentist's examined finding with its evidence. Law, age and
consent know no decision at all. Others need a reason and somebody whom the rule names.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from django.utils.translation import gettext_lazy as _

from whitening.screening.facts import PlanFacts
from whitening.screening.grades import CLINICIANS, Decider, Grade, PlanChange, Profession
from whitening.screening.loader import Rule
from whitening.screening.words import Words


class DecisionKind(StrEnum):
    CLEARED = "cleared"
    EXAMINED = "examined"
    STANDS = "stands"

    @property
    def label(self) -> Words:
        return KIND_LABELS[self]


KIND_LABELS: dict[DecisionKind, Words] = {
    DecisionKind.CLEARED: _("may go on"),
    DecisionKind.EXAMINED: _("examined, and not so"),
    DecisionKind.STANDS: _("stands: not going ahead"),
}


@dataclass(frozen=True, slots=True)
class DecisionFacts:
    code: str
    kind: DecisionKind
    basis: str
    decided_at: datetime
    decided_on: date
    decided_by: str
    profession: Profession
    reason: str
    evidence: str = ""
    # The paper that came in and was read for it.
    paper_id: int | None = None


def kinds_for(rule: Rule) -> tuple[DecisionKind, ...]:
    """What is worth offering for this rule; `why_not` still has the last word about the person and the words."""
    if rule.never_overridable:
        return ()
    if rule.clears.decided_by is Decider.NOBODY:
        return (DecisionKind.STANDS,)
    if rule.grade is Grade.MUST_NOT:
        return (DecisionKind.EXAMINED, DecisionKind.STANDS)
    return tuple(DecisionKind)


def why_not(*, rule: Rule, basis: str, decision: DecisionFacts, plan: PlanFacts | None) -> Words | None:
    """None when the decision may be recorded and holds; else the sentence that says why it does not."""
    # First: was it this finding, as it stands now, that was decided about?
    if decision.code != rule.code or decision.basis != basis:
        return _("The finding has changed since this page was opened. Read it again and decide then.")
    if decision.profession not in CLINICIANS:
        return _("Only a clinician decides about a finding.")
    if not decision.reason.strip():
        return _("Give the reason in your own words.")
    # To confirm a finding needs no more than a clinician and a reason, whatever the rule.
    if decision.kind is DecisionKind.STANDS:
        return None
    return _why_not_ended(rule=rule, decision=decision, plan=plan)


def _why_not_ended(*, rule: Rule, decision: DecisionFacts, plan: PlanFacts | None) -> Words | None:
    if rule.never_overridable:
        return _("Nobody can decide about this one. It ends only when the fact itself changes.")
    if rule.clears.decided_by is Decider.NOBODY:
        return _("This ends only when the answer changes. Ask the patient again and record the new answer.")
    # Going on in spite of it is one thing, finding that it is not so another: only that needs evidence.
    if decision.kind is DecisionKind.CLEARED:
        return _why_not_cleared(rule=rule, decision=decision)
    if decision.profession is not Profession.DENTIST:
        return _("Only a dentist replaces a finding by an examined one.")
    if not decision.evidence.strip():
        return _("Name the evidence: a letter, a test or what was seen, with its date.")
    if rule.clears.decision_needs_plan and not plan_has(rule.clears.decision_needs_plan, plan=plan, teeth=()):
        return _("Change the plan first: this can be decided only for a plan without a light.")
    return None


def _why_not_cleared(*, rule: Rule, decision: DecisionFacts) -> Words | None:
    if rule.grade is Grade.MUST_NOT:
        return _(
            "A must-not cannot be waved through. Change the plan, or record an examined finding with its evidence."
        )
    if rule.clears.decided_by is Decider.DENTIST and decision.profession is not Profession.DENTIST:
        return _("A dentist decides about this one.")
    return None


def plan_has(change: PlanChange, *, plan: PlanFacts | None, teeth: tuple[str, ...]) -> bool:
    """Does the plan leave out what the finding forbids? Without a plan nothing is left out."""
    if plan is None:
        return False
    if change is PlanChange.NO_LIGHT:
        return not plan.uses_light
    if change is PlanChange.RESIN_FREE:
        return not plan.resin_barrier
    # A finding that names no tooth could be anywhere.
    return bool(teeth) and plan.left_out.issuperset(teeth)
