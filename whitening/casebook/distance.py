"""Booked sessions of one course that stand too near to each other: what whoever moves one of them reads."""

from datetime import date, timedelta

from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import moment_words
from clinic.diary.behind import TooNear
from clinic.diary.models import MOVABLE, Booking
from whitening.casebook.leads import days_between
from whitening.cases.access import plan_in_force
from whitening.cases.models import CaseVisit, VisitPurpose


def behind(booking: Booking) -> list[TooNear]:
    """For the diary: the other sessions that may still be moved and are nearer than the plan allows."""
    visit = (
        CaseVisit.objects.filter(booking=booking, purpose=VisitPurpose.SESSION, case__closed_at=None)
        .select_related("case")
        .first()
    )
    if visit is None or booking.status not in MOVABLE:
        return []
    least = days_between(plan_in_force(visit.case))
    sessions = visit.case.visits.filter(purpose=VisitPurpose.SESSION, booking__status__in=MOVABLE)
    near = sessions.filter(_nearer_than(least, booking.wall_on)).exclude(booking=booking)
    found = near.select_related("booking__site").order_by("booking__starts_at", "pk")
    return [TooNear(one.booking, _move_it(one.booking, least)) for one in found]


def _nearer_than(least: int, day: date) -> Q:
    apart = timedelta(days=least)
    return Q(booking__wall_on__gt=day - apart, booking__wall_on__lt=day + apart)


def _move_it(other: Booking, least: int) -> str:
    words = _(
        "This course’s session of %(when)s is too near now: at least %(least)d days between sessions are planned. "
        "Move one of them."
    )
    return str(words) % {"when": moment_words(other.starts_at, other.site.zone), "least": least}
