"""Making a plan: what will be done, with which product, at which strength as used, under whose law."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may, require
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.actions import CaseClosed
from whitening.cases.models import Case, Isolation, Plan, PlannedLight, Product
from whitening.screening.jurisdictions import Jurisdiction, strength_allowed
from whitening.screening.reading import jurisdiction_of
from whitening.screening.teeth import planned_teeth


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


def make_plan(*, case: Case, details: PlanDetails, user: User, actor: Actor, now: datetime) -> Plan:
    """The next version of the plan. Raises NoJurisdiction, PlanNotAllowed with the limit that is passed, CaseClosed."""
    require(user, Capability.PLAN_WRITE, case.site)
    jurisdiction = jurisdiction_of(case)
    if jurisdiction is None:
        raise NoJurisdiction
    if case.closed_at is not None:
        raise CaseClosed
    why = _why_not(details, jurisdiction)
    if why is not None:
        raise PlanNotAllowed(why=why)
    with transaction.atomic():
        Case.objects.select_for_update().get(pk=case.pk)
        held = plan_in_force(case)
        plan = _create(case, details, jurisdiction, user, now, version=held.version + 1 if held else 1)
        record(
            verb="cases.planned",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values=_trail_values(plan),
        )
    return plan


def _create(
    case: Case, details: PlanDetails, jurisdiction: Jurisdiction, user: User, now: datetime, *, version: int
) -> Plan:
    return Plan.objects.create(
        case=case,
        version=version,
        product=details.product,
        strength_hp_percent=details.product.hp_percent_as_used,
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
        planned_at=now,
        planned_by=user,
        prescribed_by=user if may(user, Capability.PRESCRIBE, case.site) else None,
    )


def _why_not(details: PlanDetails, jurisdiction: Jurisdiction) -> StrOrPromise | None:
    """The first limit that this plan passes, as a sentence; None when it may be made."""
    product = details.product
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
    }
