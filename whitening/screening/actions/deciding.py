"""A clinician's decision about one finding: who, why, when, on which basis."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.screening.decisions import DecisionFacts, DecisionKind, why_not
from whitening.screening.grades import Profession
from whitening.screening.models import Decision
from whitening.screening.reading import outcome_of, plan_facts
from whitening.screening.rulebook import RULES_VERSION


class DecisionNotPossible(Refusal):
    code = "screening.decision_not_possible"
    sentence = _("%(why)s")


class FindingGone(Refusal):
    code = "screening.finding_gone"
    sentence = _("This finding is not there any more. Reload the page to see what stands now.")


def decide(
    *,
    case: Case,
    rule: str,
    basis: str,
    kind: DecisionKind,
    reason: str,
    evidence: str,
    user: User,
    actor: Actor,
    now: datetime,
) -> Decision:
    """Raises DecisionNotPossible with the rule's sentence, FindingGone, CaseClosed, CoverRunOut."""
    require(user, Capability.EXAMINE_AND_DECIDE, case.site)
    today = now.astimezone(case.site.zone).date()
    require_in_date(user, today)
    decision = DecisionFacts(
        code=rule,
        kind=kind,
        basis=basis,
        decided_at=now,
        decided_on=today,
        decided_by=user.name,
        profession=Profession(user.profession),
        reason=reason,
        evidence=evidence,
    )
    with transaction.atomic():
        # The row lock makes the finding that is read the finding that is decided about.
        _check(hold_open(case), decision)
        row = Decision.objects.create(
            case=case,
            rule=rule,
            rules_version=RULES_VERSION,
            sort=kind,
            basis=basis,
            reason=reason,
            evidence=evidence,
            decided_at=now,
            decided_on=today,
            profession=user.profession,
            decided_by=user,
        )
        record(
            verb="screening.decided",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values={"rule": rule, "kind": str(kind), "reason": reason, "evidence": evidence},
        )
    return row


def _check(case: Case, decision: DecisionFacts) -> None:
    finding = outcome_of(case, today=decision.decided_on).finding(decision.code)
    if finding is None:
        raise FindingGone
    plan = plan_in_force(case)
    forbidden = why_not(
        rule=finding.rule, basis=finding.basis, decision=decision, plan=plan_facts(plan) if plan else None
    )
    if forbidden is not None:
        raise DecisionNotPossible(why=forbidden)
