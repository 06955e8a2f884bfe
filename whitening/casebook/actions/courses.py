"""Several visits of a case in one go: all of them or none, in one transaction."""

from collections.abc import Collection, Sequence
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from clinic.diary import actions as diary
from clinic.diary.courses.holding import book_all_held, let_all_go
from clinic.diary.engine.course import keeps
from clinic.diary.models import COMING, Booking, Status
from clinic.diary.refusals import NotPossibleNow
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.casebook.actions.visits import VisitWish, book_visit, hold_visit
from whitening.casebook.courses import gaps_of
from whitening.casebook.lead_times import earliest_for
from whitening.cases.models import Case, CaseVisit, VisitPurpose


class OutOfStep(Refusal):
    code = "casebook.out_of_step"
    sentence = _("Too few or too many days lie between these visits now. Pick one of the courses below.")


class CourseStands(Refusal):
    code = "casebook.course_stands"
    sentence = _("These times are held or booked for this case already. Go on from how they stand below.")


def book_course(*, case: Case, wishes: Sequence[VisitWish], actor: Actor, now: datetime) -> list[CaseVisit]:
    """Raises CourseStands, OutOfStep, and what `book_visit` raises for any of them: then nothing is booked."""
    with diary.one_at_a_time(case.patient):
        _check(case, wishes, now)
        return [book_visit(case=case, wish=wish, actor=actor, now=now) for wish in wishes]


def hold_course(*, case: Case, wishes: Sequence[VisitWish], actor: Actor, now: datetime) -> list[CaseVisit]:
    """Holds all of it while the desk talks with the patient. Raises what `book_course` raises."""
    with diary.one_at_a_time(case.patient):
        _check(case, wishes, now)
        return [hold_visit(case=case, wish=wish, actor=actor, now=now) for wish in wishes]


def book_held_course(*, case: Case, shown: Collection[int], actor: Actor, now: datetime) -> list[Booking]:
    """shown: the bookings that were on the page. Raises HoldEnded, HeldByAnother or NotPossibleNow."""
    return book_all_held(bookings=_held(case, shown), actor=actor, now=now)


def let_course_go(*, case: Case, shown: Collection[int], actor: Actor, now: datetime) -> list[Booking]:
    return let_all_go(bookings=_held(case, shown), actor=actor, now=now)


def _held(case: Case, shown: Collection[int]) -> list[Booking]:
    """Of this case only, whatever was sent."""
    rows = case.visits.filter(booking__in=shown).select_related(
        "booking__site", "booking__patient", "booking__visit_type"
    )
    found = [row.booking for row in rows]
    if not found or len(found) < len(set(shown)):
        raise NotPossibleNow(status=Status.CANCELLED.label)
    return found


def _check(case: Case, wishes: Sequence[VisitWish], now: datetime) -> None:
    """The days that the page offered them for may be others by now: a plan changes, a form is old."""
    if _stands(case, wishes, now):
        raise CourseStands
    firsts: dict[VisitPurpose, datetime] = {}
    for wish in wishes:
        firsts.setdefault(wish.purpose, wish.start_at)
    if any(start_at < earliest_for(case, purpose, now=now) for purpose, start_at in firsts.items()):
        raise OutOfStep
    zone = case.site.zone
    days = [wish.start_at.astimezone(zone).toordinal() for wish in wishes]
    if not keeps(days, list(gaps_of(case, [wish.purpose for wish in wishes]))):
        raise OutOfStep


def _stands(case: Case, wishes: Sequence[VisitWish], now: datetime) -> bool:
    """Pressed twice, or on a second page: what is in the way of these times is these times."""
    running_out = {"booking__status__in": [Status.PENDING, Status.PROPOSED], "booking__lapses_at__lte": now}
    rows = case.visits.filter(booking__status__in=[Status.PENDING, *COMING]).exclude(**running_out)
    standing = set(rows.values_list("purpose", "booking__starts_at"))
    return any((wish.purpose, wish.start_at) in standing for wish in wishes)
