"""The lead times of a case: what each kind of visit should keep to, with its reason and how sure its source is."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.diary.forms import SEARCH_DAYS
from clinic.diary.leads import PRACTICE, LeadTime, in_order
from clinic.diary.models import HOLDING, Status
from clinic.patients.models import Patient
from whitening.casebook.rules import (
    BONDING_AFTER_DAYS,
    BONDING_LEAST_DAYS,
    CLEAN_FROM_DAY,
    CLEAN_UNTIL_DAY,
    DAYS_TO_THINK,
    USUAL_DAYS_BETWEEN,
)
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseVisit, Plan, VisitPurpose
from whitening.cases.rules import treatable_on
from whitening.consent.reading import first_signing_on, standing
from whitening.recall.timing import REVIEW_FIRST_DAY, REVIEW_LAST_DAY
from whitening.recall.visits import last_session_on
from whitening.screening.reading import examination_of, jurisdiction_of, outcome_of

OF_CLEANING = _("provider pages in conflict (14 days, or none), no trial found; clean surfaces: SCCP/1129/07")
OF_BONDING = _("Ferraz 2018 and laboratory papers in conflict (7 days, 28, none); 14 days from memory")
OF_INTERVAL = _("trials: sessions two or seven days apart gave the same colour (de Geus 2016 and others)")
OF_REVIEW = _("trials read the final colour from day 28 on (de Geus 2016 and others; Hatirli 2021)")


def leads_for(case: Case, purpose: VisitPurpose, *, user: User | None, now: datetime) -> list[LeadTime]:
    """What a finding says is only for whoever may read the answers; the others learn the day."""
    if purpose == VisitPurpose.REVIEW:
        return list(_of_review(case))
    if purpose != VisitPurpose.SESSION:
        return []
    reads = user is not None and may(user, Capability.ANSWERS_READ, case.site)
    patient = _of_the_patient(case, reads=reads, today=now.astimezone(case.site.zone).date())
    return [*patient, *_of_consultation(case, now), *_of_sessions(case, now), *_of_cleaning(case, now)]


def shown_leads(case: Case, purpose: VisitPurpose, *, user: User, now: datetime) -> Sequence[LeadTime]:
    """Beside the free times: what ends beyond the days that are looked through changes nothing there."""
    today = now.astimezone(case.site.zone).date()
    leads = leads_for(case, purpose, user=user, now=now)
    return in_order(leads, today=today, until=today + timedelta(days=SEARCH_DAYS))


def days_between(plan: Plan | None) -> int:
    return plan.least_days_between if plan else USUAL_DAYS_BETWEEN


def days_to_think(case: Case) -> int:
    """Between consultation and session; local rules may ask for more."""
    jurisdiction = jurisdiction_of(case)
    return max(DAYS_TO_THINK, jurisdiction.cooling_off_days if jurisdiction else 0)


def cleaned_on(case: Case, *, now: datetime) -> date | None:
    """The last cleaning that an examiner dated or that was booked, also one still to come."""
    visit, examination = _last(case, VisitPurpose.CLEANING, now), examination_of(case)
    days = [visit.booking.wall_on if visit else None, examination.cleaned_on if examination else None]
    return max((day for day in days if day is not None), default=None)


def bonding_after(patient: Patient, _user: User, now: datetime) -> Iterable[LeadTime]:
    """For whoever looks for a time outside a case: new adhesive work waits after the last session."""
    today = now.astimezone(patient.site.zone).date()
    for case in Case.objects.filter(patient=patient).select_related("site", "patient").order_by("-opened_at")[:1]:
        last_on = last_session_on(case)
        if last_on is not None and last_on + timedelta(days=BONDING_AFTER_DAYS) > today:
            yield bonding(last_on)


def bonding(last_on: date) -> LeadTime:
    why = _(
        "new adhesive work (fillings, veneers, brackets): %(days)d days after the last session, never under %(least)d"
    )
    words = str(why) % {"days": BONDING_AFTER_DAYS, "least": BONDING_LEAST_DAYS}
    first_on = last_on + timedelta(days=BONDING_AFTER_DAYS)
    return LeadTime(first_on=first_on, why=words, source=OF_BONDING, is_advice=True)


def _of_the_patient(case: Case, *, reads: bool, today: date) -> Iterator[LeadTime]:
    """Age, findings that wait for a day, a deferral, local rules after the talk."""
    jurisdiction, plan = jurisdiction_of(case), plan_in_force(case)
    of_age = jurisdiction.source_of("min_age") if jurisdiction else PRACTICE
    of_days = jurisdiction.source_of("cooling_off_days") if jurisdiction else PRACTICE
    yield LeadTime(first_on=treatable_on(case.patient.birth_on), why=_("the 18th birthday"), source=of_age)
    for finding in outcome_of(case, today=today, plan=plan).findings:
        if finding.blocks and finding.not_before:
            yield LeadTime(
                first_on=finding.not_before,
                why=finding.rule.finding if reads else _("the reason stands with the answers"),
                source=finding.rule.source if reads else "",
            )
    if case.deferred_until:
        yield LeadTime(first_on=case.deferred_until, why=_put_off(case, reads=reads), source="")
    signing_on = first_signing_on(case, plan) if plan and not standing(case, plan=plan).signed_this_plan else None
    if signing_on:
        yield LeadTime(
            first_on=signing_on, why=_("local rules ask for days between talk and signature"), source=of_days
        )


def _put_off(case: Case, *, reads: bool) -> StrOrPromise:
    if not reads:
        return _("put off by %(name)s") % {"name": case.deferred_by}
    return _("put off by %(name)s: %(why)s") % {"name": case.deferred_by, "why": case.deferred_because}


def _of_consultation(case: Case, now: datetime) -> Iterator[LeadTime]:
    """Where local rules ask for days between talk and signature, the talk is the consultation's."""
    visit, jurisdiction = _last(case, VisitPurpose.CONSULTATION, now), jurisdiction_of(case)
    if visit is None:
        return
    asked = jurisdiction.cooling_off_days if jurisdiction else 0
    days = days_to_think(case)
    why = ngettext(
        "%(count)d day after the consultation, to think", "%(count)d days after the consultation, to think", days
    )
    source = jurisdiction.source_of("cooling_off_days") if jurisdiction and asked else PRACTICE
    yield LeadTime(first_on=visit.booking.wall_on + timedelta(days=days), why=why % {"count": days}, source=source)


def _of_sessions(case: Case, now: datetime) -> Iterator[LeadTime]:
    visit = _last(case, VisitPurpose.SESSION, now)
    if visit is None:
        return
    days = days_between(plan_in_force(case))
    why = ngettext("%(count)d day after the session before", "%(count)d days after the session before", days)
    first_on = visit.booking.wall_on + timedelta(days=days)
    yield LeadTime(first_on=first_on, why=why % {"count": days}, source=OF_INTERVAL)


def _of_cleaning(case: Case, now: datetime) -> Iterator[LeadTime]:
    day = cleaned_on(case, now=now)
    if day is None:
        return
    fresh = _("%(days)d days after the scale and polish; sooner only where the dentist has looked at the gums")
    yield LeadTime(
        first_on=day + timedelta(days=CLEAN_FROM_DAY),
        why=str(fresh) % {"days": CLEAN_FROM_DAY},
        source=OF_CLEANING,
        is_advice=True,
    )
    stale = _("the scale and polish counts for %(days)d days; later it is done again first")
    yield LeadTime(
        last_on=day + timedelta(days=CLEAN_UNTIL_DAY), why=str(stale) % {"days": CLEAN_UNTIL_DAY}, source=OF_CLEANING
    )


def _of_review(case: Case) -> Iterator[LeadTime]:
    last_on = last_session_on(case)
    if last_on is None:
        return
    first = _("day %(day)d after the last session: before that the colour has not settled")
    first_on = last_on + timedelta(days=REVIEW_FIRST_DAY)
    yield LeadTime(first_on=first_on, why=str(first) % {"day": REVIEW_FIRST_DAY}, source=OF_REVIEW)
    last = _("day %(day)d after the last session; later is possible, and marked late")
    until_on = last_on + timedelta(days=REVIEW_LAST_DAY)
    yield LeadTime(last_on=until_on, why=str(last) % {"day": REVIEW_LAST_DAY}, source=OF_REVIEW, is_advice=True)


def standing_visits(case: Case, purpose: VisitPurpose, *, now: datetime) -> QuerySet[CaseVisit]:
    """Those that took place or still may; what has run out holds nothing, though no tick has come."""
    held = [status for status in HOLDING if status != Status.NOSHOW]
    visits = case.visits.filter(purpose=purpose, booking__status__in=held)
    return visits.exclude(booking__status__in=[Status.PENDING, Status.PROPOSED], booking__lapses_at__lte=now)


def all_have_their_time(case: Case, plan: Plan, *, now: datetime) -> bool:
    """As many sessions as are planned stand, or took place."""
    return standing_visits(case, VisitPurpose.SESSION, now=now).count() >= plan.sessions


def _last(case: Case, purpose: VisitPurpose, now: datetime) -> CaseVisit | None:
    visits = standing_visits(case, purpose, now=now).select_related("booking")
    return visits.order_by("booking__starts_at").last()
