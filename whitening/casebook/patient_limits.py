"""When a visit of a case may be, for a patient who picks or moves it alone: nowhere that the practice would not."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta

from clinic.diary.engine.working import instant
from clinic.diary.models import HOLDING, Booking, Status, TimeInvitation, VisitType
from clinic.diary.openings import Wanted
from clinic.diary.refusals import OutsideOpeningHours
from clinic.diary.selfservice.inviting import Asked, Room
from clinic.diary.selfservice.limits import Limits, together
from clinic.trail.actor import Actor
from whitening.casebook.actions import NoSuchVisitType, VisitWish, book_visit, wanted_for
from whitening.casebook.lead_times import earliest_for
from whitening.casebook.leads import all_have_their_time, cleaned_on, days_to_think
from whitening.casebook.rules import CLEAN_FROM_DAY, CLEAN_UNTIL_DAY
from whitening.casebook.wanting import CODES
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseInvitation, CaseVisit, VisitPurpose
from whitening.consent.reading import standing
from whitening.consent.rules import holds_until
from whitening.recall.timing import REVIEW_FIRST_DAY, review_times

CLOSED = Limits(is_closed=True)
_HELD = [status for status in HOLDING if status != Status.NOSHOW]
# What comes before a treatment in its course is moved by whoever sees the whole course.
_OF_A_COURSE = {VisitPurpose.CLEANING, VisitPurpose.IMPRESSIONS, VisitPurpose.FITTING}


def of_move(booking: Booking, now: datetime) -> Limits | None:
    """For the diary; None for a visit of no case."""
    visits = CaseVisit.objects.filter(booking=booking).select_related("case__site", "case__patient")
    visit = visits.first()
    if visit is None:
        return None
    return limits_for(visit.case, VisitPurpose(visit.purpose), now=now, but=booking)


def limits_for(case: Case, purpose: VisitPurpose, *, now: datetime, but: Booking | None = None) -> Limits:
    """Among the other visits of the case; `but` is the one that is moved."""
    if case.closed_at is not None:
        return CLOSED
    if purpose == VisitPurpose.SESSION:
        return _of_session(case, but, now)
    if purpose == VisitPurpose.CONSULTATION:
        return Limits(latest_at=_before(case, _sessions_after(case, but), days_to_think(case)))
    if purpose == VisitPurpose.REVIEW:
        return _of_review(case)
    if purpose in _OF_A_COURSE and _sessions_after(case, but):
        return CLOSED
    return Limits()


def _of_session(case: Case, but: Booking | None, now: datetime) -> Limits:
    """Agreed, and still so on that day; apart from the sessions beside it; and before a review that is booked."""
    held, plan = standing(case), plan_in_force(case)
    if not held.agreed or held.signed_on is None or plan is None:
        return CLOSED
    if but is None and all_have_their_time(case, plan, now=now):
        return CLOSED
    apart = plan.least_days_between
    before = _days(case, VisitPurpose.SESSION, but, before=but)
    # Of one that is picked: the reviews that are still to come.
    since = but.wall_on if but is not None else now.astimezone(case.site.zone).date()
    reviews = [day for day in _days(case, VisitPurpose.REVIEW, but) if day > since]
    agreed_until = instant(holds_until(held.signed_on) + timedelta(days=1), time(0), case.site.zone)
    return together(
        [
            _of_cleaning(case, now),
            Limits(latest_at=agreed_until),
            Limits(earliest_at=_start_of(case, max(before) + timedelta(days=apart)) if before else None),
            Limits(latest_at=_before(case, _sessions_after(case, but), apart)),
            Limits(latest_at=_before(case, reviews, REVIEW_FIRST_DAY)),
        ]
    )


def _of_cleaning(case: Case, now: datetime) -> Limits:
    """Sooner after a cleaning is for a dentist to say."""
    day = cleaned_on(case, now=now)
    if day is None:
        return Limits()
    first_on, after = (day + timedelta(days=days) for days in (CLEAN_FROM_DAY, CLEAN_UNTIL_DAY + 1))
    return Limits(earliest_at=_start_of(case, first_on), latest_at=_start_of(case, after))


def _of_review(case: Case) -> Limits:
    ends = [at for at in case.sessions.exclude(closed_at=None).values_list("closed_at", flat=True) if at is not None]
    return Limits(latest_at=review_times(max(ends), case.site.zone).until_at if ends else None)


def _sessions_after(case: Case, but: Booking | None) -> list[date]:
    days = _days(case, VisitPurpose.SESSION, but)
    return [day for day in days if but is not None and day >= but.wall_on]


def _days(case: Case, purpose: VisitPurpose, but: Booking | None, *, before: Booking | None = None) -> list[date]:
    """Of the other visits of this purpose that stand; with `before`, of those that come first."""
    visits = case.visits.filter(purpose=purpose, booking__status__in=_HELD).exclude(booking=but)
    days = list(visits.values_list("booking__wall_on", flat=True))
    return [day for day in days if before is None or day < before.wall_on]


def _before(case: Case, days: list[date], apart: int) -> datetime | None:
    """So many days before the first of them, that day included."""
    return _start_of(case, min(days) - timedelta(days=apart - 1)) if days else None


def _start_of(case: Case, day: date) -> datetime:
    return instant(day, time(0), case.site.zone)


def may_pick(case: Case) -> frozenset[VisitPurpose]:
    """The visits whose times patients pick alone at this site."""
    kinds = VisitType.objects.bookable().filter(site=case.site, patient_may_book=True)
    codes = set(kinds.values_list("code", flat=True))
    return frozenset(purpose for purpose, code in CODES.items() if code in codes)


def _tie(invitation: TimeInvitation) -> CaseInvitation | None:
    ties = CaseInvitation.objects.filter(invitation=invitation)
    return ties.select_related("case__site", "case__patient").first()


def _asked(invitation: TimeInvitation, now: datetime) -> Asked | None:
    tie = _tie(invitation)
    if tie is None:
        return None
    case, purpose = tie.case, VisitPurpose(tie.purpose)
    try:
        wanted = replace(wanted_for(case, purpose), now=now)
    except NoSuchVisitType:
        return Asked(Wanted(invitation.visit_type, now=now), CLOSED)
    earliest = Limits(earliest_at=earliest_for(case, purpose, now=now))
    return Asked(wanted, together([limits_for(case, purpose, now=now), earliest]))


def _book(invitation: TimeInvitation, start_at: datetime, actor: Actor, now: datetime) -> Booking:
    tie = _tie(invitation)
    if tie is None:
        raise OutsideOpeningHours
    wish = VisitWish(VisitPurpose(tie.purpose), start_at)
    return book_visit(case=tie.case, wish=wish, actor=actor, now=now).booking


ROOM = Room(asked=_asked, book=_book)
