"""An invented patient with an invented plan, for whoever wants to see what a wording becomes. Nothing of it is kept."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from django.utils.translation import gettext as _

from clinic.accounts.languages import speaking
from clinic.accounts.models import Site, User
from clinic.patients.models import Patient
from whitening.cases.models import Case, Isolation, Plan, PlannedLight
from whitening.consent import plan_words
from whitening.consent.models import InterpreterKind, Quote, Talk
from whitening.consent.wording import Element, Wording


def assembled(wording: Wording, *, site: Site, now: datetime) -> tuple[Element, ...]:
    """As one patient would read it: the same words from the same plan as on the page to sign."""
    with speaking(wording.language):
        plan = _plan(_case(site), now)
        talk = _talk(plan, now, wording.language)
    return plan_words.assembled(case=plan.case, plan=plan, talk=talk, quote=_quote(plan, now), wording=wording)


def _case(site: Site) -> Case:
    patient = Patient(site=site, name=_("Example Patient (invented)"), birth_on=date(1990, 5, 17))
    return Case(patient=patient, site=site)


def _plan(case: Case, now: datetime) -> Plan:
    return Plan(
        case=case,
        version=1,
        upper_arch=True,
        lower_arch=True,
        teeth_left_out=["36"],
        sessions=2,
        cycles_per_session=3,
        minutes_per_cycle=15,
        strength_hp_percent=Decimal("6.00"),
        light=PlannedLight.HAND_HELD,
        isolation=Isolation.RESIN_BARRIER,
        fee=Decimal("320.00"),
        currency=case.site.currency,
        expectation=_("Two or three steps on the guide are likely."),
        planned_at=now,
        planned_by=_dentist(),
    )


def _dentist() -> User:
    return User(name=_("Example Dentist (invented)"))


def _talk(plan: Plan, now: datetime, language: str) -> Talk:
    return Talk(
        case=plan.case,
        plan=plan,
        language=language,
        what_matters=_("That it looks natural."),
        questions=_("May I drink coffee afterwards? Yes; it need not be avoided."),
        can_decide=True,
        interpreter=InterpreterKind.NONE,
        talked_at=now,
        talked_by=_dentist(),
    )


def _quote(plan: Plan, now: datetime) -> Quote:
    valid_until = (now + timedelta(days=90)).astimezone(plan.case.site.zone).date()
    return Quote(case=plan.case, plan=plan, amount=plan.fee, currency=plan.currency, valid_until=valid_until)
