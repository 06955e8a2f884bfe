"""Visits of a case: booking or pencilling them, and confirming a pencilled session once all is agreed."""

from dataclasses import dataclass
from datetime import datetime
from itertools import count

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.diary import actions as diary
from clinic.diary.models import Booking, Status, VisitCode, VisitType
from clinic.diary.openings import Wanted
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.casebook.rules import pencilled_until
from whitening.cases.access import plan_in_force
from whitening.cases.actions import CaseClosed, add_visit
from whitening.cases.models import Case, CaseVisit, PlannedLight, VisitPurpose
from whitening.consent.reading import standing
from whitening.recall.visits import check_not_too_early

CODES = {
    VisitPurpose.CONSULTATION: VisitCode.CONSULTATION,
    VisitPurpose.SESSION: VisitCode.TREATMENT,
    VisitPurpose.REVIEW: VisitCode.REVIEW,
    VisitPurpose.PROBLEM: VisitCode.PROBLEM,
    VisitPurpose.CLEANING: VisitCode.HYGIENE,
    VisitPurpose.IMPRESSIONS: VisitCode.IMPRESSIONS,
    VisitPurpose.FITTING: VisitCode.FITTING,
}
ANY_LIGHT = "any"  # before there is a plan nobody knows which light, so one of either kind is held


class NoSuchVisitType(Refusal):
    code = "casebook.no_such_visit_type"
    sentence = _("This kind of visit is not set up here yet. A manager adds the usual visits in Set-up.")


class PlanNeedsAnotherTime(Refusal):
    code = "casebook.plan_needs_another_time"
    sentence = _(
        "The agreed plan needs another length or light than was pencilled, and that does not fit at this time. "
        "Find another time for the session."
    )


class NotAgreedYet(Refusal):
    code = "casebook.not_agreed_yet"
    sentence = _("The consent is not signed and countersigned for this plan yet. Then the time can be confirmed.")


class AgreedTooLongAgo(NotAgreedYet):
    code = "casebook.agreed_too_long_ago"
    sentence = _("The consent is too old on that day. Let the patient sign again; then the time can be confirmed.")


@dataclass(frozen=True, slots=True)
class VisitWish:
    """A chosen opening. person is the id of a clinician's resource, or None for anyone suitable."""

    purpose: VisitPurpose
    start_at: datetime
    person: int | None = None


def wanted_for(case: Case, purpose: VisitPurpose, *, person: int | None = None) -> Wanted:
    """What to look for in the diary; a session's length and light come from the plan. Raises NoSuchVisitType."""
    visit_type = VisitType.objects.filter(site=case.site, code=CODES[purpose], active=True).order_by("pk").first()
    if visit_type is None:
        raise NoSuchVisitType
    if purpose != VisitPurpose.SESSION:
        return Wanted(visit_type, person=person)
    plan = plan_in_force(case)
    if plan is None:
        return Wanted(visit_type, case.expected_cycles, ANY_LIGHT, person)
    light = "" if plan.light == PlannedLight.NONE else str(plan.light)
    return Wanted(visit_type, plan.cycles_per_session, light, person)


def book_visit(*, case: Case, wish: VisitWish, actor: Actor, now: datetime) -> CaseVisit:
    """Books the visit; a session that is not agreed yet is only pencilled, with the date on which it lapses."""
    if case.closed_at is not None:
        raise CaseClosed
    if wish.purpose == VisitPurpose.REVIEW:
        check_not_too_early(case, start_at=wish.start_at)
    wanted = wanted_for(case, wish.purpose, person=wish.person)
    lapses_at = None
    if wish.purpose == VisitPurpose.SESSION and not _is_agreed_for(case, wish.start_at):
        lapses_at = pencilled_until(
            now=now,
            session_starts_at=wish.start_at,
            consultation_ends_at=_consultation_end(case, now),
            zone=case.site.zone,
        )
    request = diary.BookingRequest(
        case.patient, wanted.visit_type, wish.start_at, wanted.cycles, wanted.light_kind, wish.person, lapses_at
    )
    with transaction.atomic():
        booking = diary.book(site=case.site, request=request, actor=actor, now=now)
        number = _next_session_number(case) if wish.purpose == VisitPurpose.SESSION else None
        return add_visit(case=case, booking=booking, purpose=wish.purpose, actor=actor, session_number=number)


def confirm_pencilled(*, case: Case, visit: CaseVisit, actor: Actor, now: datetime) -> Booking:
    """Makes a pencilled session a booked one, at the length and with the light of the plan that was agreed.

    Raises NotAgreedYet, AgreedTooLongAgo, PlanNeedsAnotherTime or NotPossibleNow.
    """
    booking = visit.booking
    if booking.status != Status.PROPOSED:
        raise diary.NotPossibleNow(status=booking.get_status_display())
    held = standing(case)
    if not held.agreed:
        raise NotAgreedYet
    if not held.holds_on(booking.wall_on):
        raise AgreedTooLongAgo
    wanted = wanted_for(case, VisitPurpose.SESSION)
    with transaction.atomic():
        if (booking.cycles, booking.light_kind) != (wanted.cycles, wanted.light_kind):
            booking = _refitted(booking, wanted, actor=actor, now=now)
        return diary.confirm(booking=booking, actor=actor, now=now)


def _is_agreed_for(case: Case, start_at: datetime) -> bool:
    held = standing(case)
    return held.agreed and held.holds_on(start_at.astimezone(case.site.zone).date())


def _refitted(booking: Booking, wanted: Wanted, *, actor: Actor, now: datetime) -> Booking:
    try:
        return diary.refit(booking=booking, cycles=wanted.cycles, light_kind=wanted.light_kind, actor=actor, now=now)
    except (diary.SlotTaken, diary.OutsideOpeningHours) as refusal:
        raise PlanNeedsAnotherTime from refusal


def _consultation_end(case: Case, now: datetime) -> datetime | None:
    visit = (
        case.visits.filter(
            purpose=VisitPurpose.CONSULTATION,
            booking__status__in=[Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN],
            booking__ends_at__gt=now,
        )
        .select_related("booking")
        .first()
    )
    return visit.booking.ends_at if visit else None


def _next_session_number(case: Case) -> int:
    """The lowest number that no session holds whose time still stands: one that fell out is filled again."""
    standing_ones = case.visits.filter(purpose=VisitPurpose.SESSION).exclude(
        booking__status__in=[Status.CANCELLED, Status.NOSHOW, Status.ENTERED_IN_ERROR]
    )
    taken = set(standing_ones.values_list("session_number", flat=True))
    return next(number for number in count(1) if number not in taken)
