"""How the practice's time was used in past weeks, and what became of the visits. A fixed number of queries a week."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, DurationField, ExpressionWrapper, F, Sum

from clinic.accounts.models import Site
from clinic.diary.engine.confidence import Share, share
from clinic.diary.engine.spans import Span, without
from clinic.diary.models import Booking, Resource, ResourceClaim, Status
from clinic.diary.reading import DAYS_OF_A_WEEK, day_bounds, week_of
from clinic.diary.shut import Hours, read_hours

WEEKS = 8
# Their time was promised to somebody: not what was only pencilled, nor held while on the telephone.
_PROMISED = (Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN, Status.FULFILLED, Status.NOSHOW)
_CAME = (Status.ARRIVED, Status.CHECKED_IN, Status.FULFILLED)


@dataclass(frozen=True, slots=True)
class Week:
    """Minutes of one room, person or light in one week from Monday."""

    monday: date
    booked: int
    open: int

    @property
    def percent(self) -> int | None:
        """None where it was not open: nothing can be said of nothing."""
        return round(100 * self.booked / self.open) if self.open else None


@dataclass(frozen=True, slots=True)
class Used:
    resource: Resource
    weeks: Sequence[Week]

    @property
    def total(self) -> Week:
        booked, opened = sum(one.booked for one in self.weeks), sum(one.open for one in self.weeks)
        return Week(self.weeks[0].monday, booked, opened)


@dataclass(frozen=True, slots=True)
class Attendance:
    """visits: those whose time came and of which somebody said how they ended. not_said: the others."""

    missed: Share
    cancelled_late: Share
    cancelled_by_patient: int
    cancelled_by_practice: int
    not_said: int


@dataclass(frozen=True, slots=True)
class Usage:
    mondays: Sequence[date]
    last_on: date
    used: Sequence[Used]
    attendance: Attendance


def usage(site: Site, *, now: datetime, weeks: int = WEEKS) -> Usage:
    """The last whole weeks: the one that is going on says nothing yet."""
    this_monday = week_of(now.astimezone(site.zone).date())
    mondays = [this_monday - timedelta(days=DAYS_OF_A_WEEK * number) for number in range(weeks, 0, -1)]
    days = DAYS_OF_A_WEEK * weeks
    resources = list(Resource.objects.bookable().filter(site=site))
    hours = read_hours(site, [one.pk for one in resources], first_on=mondays[0], days=days)
    booked = {monday: _booked(site, monday, [one.pk for one in resources]) for monday in mondays}
    used = [
        Used(one, [Week(day, booked[day].get(one.pk, 0), _open(site, hours[one.pk], day)) for day in mondays])
        for one in resources
    ]
    return Usage(
        mondays, this_monday - timedelta(days=1), used, attendance(site, *day_bounds(site, mondays[0], days=days))
    )


def attendance(site: Site, start_at: datetime, end_at: datetime) -> Attendance:
    """What became of the visits that were to begin between two instants.

    A time that was held and let go again was promised to nobody: it is neither a visit nor a cancellation, and
    neither is a pencilled time that lapsed or was let go.
    """
    rows = Booking.objects.filter(site=site, starts_at__gte=start_at, starts_at__lt=end_at)
    by_status = dict(rows.values_list("status").annotate(number=Count("pk")).order_by())
    came, missed = sum(by_status.get(status, 0) for status in _CAME), by_status.get(Status.NOSHOW, 0)
    ended = rows.filter(status=Status.CANCELLED, cancelled_by__in=["patient", "practice"])
    ended = ended.exclude(status_from=Status.PROPOSED)
    cancelled = list(ended.only("starts_at", "cancelled_at", "cancelled_by", "notice_hours"))
    by_patient = [one for one in cancelled if one.cancelled_by == "patient"]
    not_said = by_status.get(Status.BOOKED, 0)
    return Attendance(
        missed=share(missed, came + missed),
        cancelled_late=share(sum(one.was_late for one in by_patient), came + missed + not_said + len(by_patient)),
        cancelled_by_patient=len(by_patient),
        cancelled_by_practice=len(cancelled) - len(by_patient),
        not_said=not_said,
    )


def _booked(site: Site, monday: date, ids: Collection[int]) -> Mapping[int, int]:
    """Minutes by resource; a visit belongs to the week in which it begins to hold it."""
    start_at, end_at = day_bounds(site, monday, days=DAYS_OF_A_WEEK)
    claims = ResourceClaim.objects.filter(
        resource__in=ids, active=True, start_at__gte=start_at, start_at__lt=end_at, booking__status__in=_PROMISED
    )
    length = ExpressionWrapper(F("end_at") - F("start_at"), output_field=DurationField())
    rows = claims.order_by().values("resource_id").annotate(held=Sum(length)).values_list("resource_id", "held")
    return {pk: held // timedelta(minutes=1) for pk, held in rows}


def _open(site: Site, hours: Hours, monday: date) -> int:
    """Working time without leave, holidays and closures."""
    spans = without(hours.within(*day_bounds(site, monday, days=DAYS_OF_A_WEEK)), _closed(hours))
    return sum(end - start for start, end in spans)


def _closed(hours: Hours) -> list[Span]:
    return [span for span, _words in hours.closed]
