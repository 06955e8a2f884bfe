"""Making a plan: what will be done, with which product, at which strength as used, under whose law."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may, require, require_in_date
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.actions import hold_open
from whitening.cases.models import Case, Isolation, Plan, PlannedLight, Product
from whitening.screening.decisions import plan_has
from whitening.screening.grades import Profession
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.outcome import Finding
from whitening.screening.reading import jurisdiction_of, outcome_of, plan_facts
from whitening.screening.teeth import planned_teeth
from whitening.screening.verdicts import may_examine, may_prescribe, strength_allowed


class NoJurisdiction(Refusal):
    code = "screening.no_jurisdiction"
    sentence = _("Nobody has chosen yet whose rules hold at this site. A manager does that in Set-up; then plan.")


class PlanNotAllowed(Refusal):
    code = "screening.plan_not_allowed"
    sentence = _("%(why)s")


@dataclass(frozen=True, slots=True)
class PlanDetails:
    """What the clinician decides. Times in minutes; teeth_left_out are ISO 3950 numbers; fee in the site's currency."""

    product: Product
    upper_arch: bool
    lower_arch: bool
    teeth_left_out: tuple[str, ...]
    sessions: int
    cycles_per_session: int
    minutes_per_cycle: int
    least_days_between: int
    light: PlannedLight
    isolation: Isolation
    fee: Decimal
    expectation: str = ""


class PlanForbidden(Refusal):
    """findings: the must-nots that this plan would leave in force."""

    code = "screening.plan_forbidden"
    sentence = _("This plan cannot be kept. %(why)s")

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__(why=" ".join(f"{one.rule.finding}. {one.rule.what_to_do}" for one in findings))


class PlanChanged(Refusal):
    code = "screening.plan_changed"
    sentence = _(
        "Somebody recorded plan %(version)s while this page was open. Compare the two, then record yours again."
    )


def make_plan(
    *, case: Case, details: PlanDetails, user: User, actor: Actor, now: datetime, based_on: int | None = None
) -> Plan:
    """The next version of the plan. based_on: the version on the screen when it was written, 0 for none.

    Raises NoJurisdiction, PlanNotAllowed with the limit that is passed, PlanForbidden with the must-nots that
    it leaves in force, PlanChanged, CoverRunOut, CaseClosed.
    """
    require(user, Capability.PLAN_WRITE, case.site)
    require_in_date(user, now.astimezone(case.site.zone).date())
    jurisdiction = jurisdiction_of(case)
    if jurisdiction is None:
        raise NoJurisdiction
    why = _why_not(details, jurisdiction, Profession(user.profession))
    if why is not None:
        raise PlanNotAllowed(why=why)
    with transaction.atomic():
        held_case = hold_open(case)
        held = plan_in_force(held_case)
        version = held.version if held else 0
        if based_on is not None and based_on != version:
            raise PlanChanged(version=version)
        plan = _proposed(held_case, details, jurisdiction, user, now, version=version + 1)
        _check_must_nots(held_case, plan, now)
        plan.save(force_insert=True)
        record(
            verb="cases.planned",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values=_trail_values(plan),
        )
    return plan


def _check_must_nots(case: Case, plan: Plan, now: datetime) -> None:
    """A must-not binds the plan: it is asked of the plan as it would be. Consent and operator are asked later."""
    outcome = outcome_of(case, today=now.astimezone(case.site.zone).date(), plan=plan)
    forbidding = [finding for finding in outcome.must_nots if not _waits_for_this_plan(finding, plan)]
    if forbidding:
        raise PlanForbidden(forbidding)


def _waits_for_this_plan(finding: Finding, plan: Plan) -> bool:
    """Some can be examined only once the plan is changed so: then the plan comes first, and the gate stays shut."""
    wanted = finding.rule.clears.decision_needs_plan
    return wanted is not None and plan_has(wanted, plan=plan_facts(plan), teeth=())


def _proposed(
    case: Case, details: PlanDetails, jurisdiction: Jurisdiction, user: User, now: datetime, *, version: int
) -> Plan:
    prescribes = may(user, Capability.PRESCRIBE, case.site) and may_prescribe(
        jurisdiction=jurisdiction, profession=Profession(user.profession)
    )
    return Plan(
        case=case,
        version=version,
        product=details.product,
        # A product without a strength was refused before.
        strength_hp_percent=details.product.hp_percent_as_used or Decimal(0),
        upper_arch=details.upper_arch,
        lower_arch=details.lower_arch,
        teeth_left_out=sorted(details.teeth_left_out),
        sessions=details.sessions,
        cycles_per_session=details.cycles_per_session,
        minutes_per_cycle=details.minutes_per_cycle,
        least_days_between=details.least_days_between,
        light=details.light,
        isolation=details.isolation,
        fee=details.fee,
        currency=case.site.currency,
        expectation=details.expectation,
        jurisdiction=jurisdiction.code,
        local_rule_version=jurisdiction.version,
        planned_at=now,
        planned_by=user,
        prescribed_by=user if prescribes else None,
    )


def _why_not(details: PlanDetails, jurisdiction: Jurisdiction, planner: Profession) -> StrOrPromise | None:
    """The first limit that this plan passes, as a sentence; None when it may be made."""
    product = details.product
    if not may_examine(jurisdiction=jurisdiction, profession=planner):
        return _("By the local rules (%(place)s) a %(profession)s may not examine and plan. Ask somebody who may.") % {
            "profession": planner.label,
            "place": jurisdiction.name,
        }
    if product.hp_percent_as_used is None or not product.active:
        return _("This product cannot be planned. Pick a whitening gel that is in use.")
    verdict = strength_allowed(jurisdiction=jurisdiction, hp_percent=product.hp_percent_as_used)
    if not verdict.allowed:
        return verdict.sentence
    if details.cycles_per_session > (product.cycles_most or 0):
        return _("The maker of %(product)s allows at most %(most)d cycles in one session.") % {
            "product": product.name,
            "most": product.cycles_most or 0,
        }
    if details.minutes_per_cycle > (product.cycle_minutes_most or 0):
        return _("The maker of %(product)s allows at most %(most)d minutes on the teeth.") % {
            "product": product.name,
            "most": product.cycle_minutes_most or 0,
        }
    if details.light != PlannedLight.NONE and not product.light_allowed:
        return _("The maker of %(product)s does not allow a light. Plan without one.") % {"product": product.name}
    if not planned_teeth(upper=details.upper_arch, lower=details.lower_arch, left_out=details.teeth_left_out):
        return _("No tooth is left to whiten. Choose an arch, or leave out fewer teeth.")
    return None


def _trail_values(plan: Plan) -> dict[str, object]:
    return {
        "version": plan.version,
        "product": plan.product.name,
        "strength_hp_percent": str(plan.strength_hp_percent),
        "sessions": plan.sessions,
        "cycles_per_session": plan.cycles_per_session,
        "teeth_left_out": plan.teeth_left_out,
        "light": str(plan.light),
        "isolation": str(plan.isolation),
        "fee": str(plan.fee),
        "jurisdiction": plan.jurisdiction,
        "local_rule_version": plan.local_rule_version,
    }
