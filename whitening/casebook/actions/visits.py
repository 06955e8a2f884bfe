"""Visits of a case: booking or pencilling them, and confirming a pencilled session once all is agreed."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import count

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.diary import actions as diary
from clinic.diary.models import Booking, Status
from clinic.diary.openings import Wanted
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.casebook.leads import days_between, standing_visits
from whitening.casebook.pencils import lapses_at
from whitening.casebook.wanting import wanted_for
from whitening.cases.access import plan_in_force
from whitening.cases.actions import CaseClosed, add_visit, hold_open, number_visit
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.consent.reading import standing
from whitening.recall.visits import check_not_too_early


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


class TooNearASession(Refusal):
    code = "casebook.too_near_a_session"
    sentence = _(
        "That is too near to this course’s session on %(day)s. Pick a time further from it, or move that session."
    )


@dataclass(frozen=True, slots=True)
class VisitWish:
    """A chosen opening. person is the id of a clinician's resource, or None for anyone suitable."""

    purpose: VisitPurpose
    start_at: datetime
    person: int | None = None


def book_visit(*, case: Case, wish: VisitWish, actor: Actor, now: datetime) -> CaseVisit:
    """Books the visit; what is not agreed yet is only pencilled, with the date on which it lapses."""
    with diary.one_at_a_time(case.patient):
        until = lapses_at(case, wish.purpose, start_at=wish.start_at, now=now)
        request = replace(_request(case, wish, now), lapses_at=until)
        return _tie(case, wish, diary.book(site=case.site, request=request, actor=actor, now=now), actor)


def hold_visit(*, case: Case, wish: VisitWish, actor: Actor, now: datetime) -> CaseVisit:
    """Holds it for a telephone call; it is the case's from now on, whoever books it from which page."""
    with diary.one_at_a_time(case.patient):
        request = _request(case, wish, now)
        return _tie(case, wish, diary.hold(site=case.site, request=request, actor=actor, now=now), actor)


def _request(case: Case, wish: VisitWish, now: datetime) -> diary.BookingRequest:
    if case.closed_at is not None:
        raise CaseClosed
    if wish.purpose == VisitPurpose.REVIEW:
        check_not_too_early(case, start_at=wish.start_at)
    if wish.purpose == VisitPurpose.SESSION:
        check_distance(case, wish.start_at.astimezone(case.site.zone).date(), now)
    wanted = wanted_for(case, wish.purpose, person=wish.person)
    return diary.BookingRequest(
        case.patient,
        wanted.visit_type,
        wish.start_at,
        wanted.cycles,
        wanted.light_kind,
        wish.person,
        cycle_minutes=wanted.cycle_minutes,
    )


def check_distance(case: Case, day: date, now: datetime) -> None:
    """Another desk, or another tab, may have booked one since the free times were looked for.

    Raises TooNearASession.
    """
    least = days_between(plan_in_force(case))
    others = standing_visits(case, VisitPurpose.SESSION, now=now).order_by("booking__starts_at", "pk")
    for other in others.values_list("booking__wall_on", flat=True):
        if abs((day - other).days) < least:
            raise TooNearASession(day=day_words(other))


def take_in_again(booking: Booking, actor: Actor, _now: datetime) -> None:
    """A lost visit is taken back, whose case may be closed meanwhile. Raises CaseClosed.

    Too near to another one it may stand, as it may be moved there: the page says it. Where its number was given
    again meanwhile, it gets the next one.
    """
    visit = CaseVisit.objects.select_related("case").filter(booking=booking).first()
    if visit is None:
        return
    case = hold_open(visit.case)
    if visit.session_number is not None and visit.session_number in _numbers(case):
        number_visit(visit=visit, number=next_session_number(case), actor=actor)


def _tie(case: Case, wish: VisitWish, booking: Booking, actor: Actor) -> CaseVisit:
    number = next_session_number(case) if wish.purpose == VisitPurpose.SESSION else None
    return add_visit(case=case, booking=booking, purpose=wish.purpose, actor=actor, session_number=number)


def confirm_pencilled(*, case: Case, visit: CaseVisit, actor: Actor, now: datetime) -> Booking:
    """Makes a pencilled session a booked one, at the length and with the light of the plan that was agreed.

    With the last pencilled session the review is confirmed that was pencilled behind it. Raises NotAgreedYet,
    AgreedTooLongAgo, PlanNeedsAnotherTime, PencilEnded or NotPossibleNow.
    """
    booking = visit.booking
    diary.check_pencilled(booking, now=now)
    held = standing(case)
    if not held.agreed:
        raise NotAgreedYet
    if not held.holds_on(booking.wall_on):
        raise AgreedTooLongAgo
    wanted = wanted_for(case, VisitPurpose.SESSION)
    with transaction.atomic():
        booked_for = (booking.cycles, booking.light_kind, booking.cycle_minutes)
        if booked_for != (wanted.cycles, wanted.light_kind, wanted.cycle_minutes):
            booking = _refitted(booking, wanted, actor=actor, now=now)
        booking = diary.confirm(booking=booking, actor=actor, now=now)
        _confirm_what_follows(case, actor=actor, now=now)
    return booking


def confirm_all_pencilled(*, case: Case, actor: Actor, now: datetime) -> list[tuple[CaseVisit, Refusal | None]]:
    """Every pencilled session, each for itself: one that cannot be yet keeps the others from nothing."""
    found: list[tuple[CaseVisit, Refusal | None]] = []
    for visit in pencilled(case, VisitPurpose.SESSION):
        try:
            confirm_pencilled(case=case, visit=visit, actor=actor, now=now)
        except Refusal as refusal:
            found.append((visit, refusal))
        else:
            found.append((visit, None))
    return found


def pencilled(case: Case, purpose: VisitPurpose) -> list[CaseVisit]:
    rows = case.visits.filter(purpose=purpose, booking__status=Status.PROPOSED)
    related = rows.select_related("booking__site", "booking__patient", "booking__visit_type")
    return list(related.order_by("booking__starts_at", "pk"))


def _confirm_what_follows(case: Case, *, actor: Actor, now: datetime) -> None:
    if pencilled(case, VisitPurpose.SESSION):
        return
    for visit in pencilled(case, VisitPurpose.REVIEW):
        if visit.booking.lapses_at is not None and visit.booking.lapses_at > now:
            diary.confirm(booking=visit.booking, actor=actor, now=now)


def _refitted(booking: Booking, wanted: Wanted, *, actor: Actor, now: datetime) -> Booking:
    try:
        return diary.refit(
            booking=booking,
            cycles=wanted.cycles,
            light_kind=wanted.light_kind,
            cycle_minutes=wanted.cycle_minutes,
            actor=actor,
            now=now,
        )
    except (diary.SlotTaken, diary.OutsideOpeningHours) as refusal:
        raise PlanNeedsAnotherTime from refusal


def next_session_number(case: Case) -> int:
    """The lowest number that no session holds whose time still stands: one that fell out is filled again."""
    taken = _numbers(case)
    return next(number for number in count(1) if number not in taken)


def _numbers(case: Case) -> set[int | None]:
    sessions = case.visits.filter(purpose=VisitPurpose.SESSION)
    gone = [Status.CANCELLED, Status.NOSHOW, Status.ENTERED_IN_ERROR]
    return set(sessions.exclude(booking__status__in=gone).values_list("session_number", flat=True))
