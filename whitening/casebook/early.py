"""Times that lie before the first day on which they may be: for the desk to move, without the reason."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from clinic.accounts.models import Site
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking, Status
from whitening.casebook.facts import ask_of, facts_of_many
from whitening.casebook.gates import Gate, booked_time, interval, of_review
from whitening.casebook.lead_times import not_before_on
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.recall.visits import too_early

# So far ahead Today looks; what lies later is seen in the diary and on the case, and here in time. No source.
DAYS_AHEAD = 14
_MOVABLE = [Status.PROPOSED, Status.PENDING, Status.BOOKED]
_OF_TIME = (booked_time, interval)


@dataclass(frozen=True, slots=True)
class EarlyTime:
    booking: Booking
    gates: Sequence[Gate]


def early_times(site: Site, today: date) -> list[EarlyTime]:
    """Of the days after today: those of today stand among who comes."""
    until = today + timedelta(days=DAYS_AHEAD)
    visits = CaseVisit.objects.filter(
        purpose=VisitPurpose.SESSION,
        case__closed_at=None,
        booking__site=site,
        booking__status__in=_MOVABLE,
        booking__wall_on__gt=today,
        booking__wall_on__lte=until,
    )
    related = ("booking__patient", "booking__site", "booking__visit_type")
    rows = list(visits.select_related(*related).order_by("booking__starts_at", "pk"))
    facts = facts_of_many([ask_of(case_id=row.case_id, booking=row.booking, booked=None) for row in rows])
    found = [
        EarlyTime(row.booking, [gate for ask in _OF_TIME if (gate := ask(known)).is_shut])
        for row, known in zip(rows, facts, strict=True)
        if not known.nothing_left
    ]
    return [one for one in found if one.gates]


def early_reviews(site: Site, today: date) -> list[EarlyTime]:
    """Reviews that a session moved too near to. However far ahead: they are set right while the course is in mind."""
    coming = CaseVisit.objects.filter(booking__site=site, booking__starts_at__gte=instant(today, time(0), site.zone))
    found = too_early(coming)
    reviews = Booking.objects.filter(pk__in=found).select_related("patient", "site", "visit_type")
    rows = reviews.order_by("starts_at", "pk")
    return [
        EarlyTime(one, [of_review(booked_on=one.wall_on, first_on=found[one.pk], booking_id=one.pk)]) for one in rows
    ]


def waits_until(booking: Booking, now: datetime) -> date | None:
    """For the diary, which looks for another time from that day on."""
    visits = CaseVisit.objects.filter(booking=booking, purpose=VisitPurpose.SESSION)
    visit = visits.select_related("case__site", "case__patient").first()
    return not_before_on(visit.case, now=now) if visit else None
