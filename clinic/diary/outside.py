"""Visits that lie outside working time, or would after a change; and those whose people may not serve them any more.

Worked out anew each time: no flag can go stale.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

from django.db.models import Max, Min
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site
from clinic.diary.engine.spans import Span, to_instant, to_minute, to_minute_up, without
from clinic.diary.engine.working import Pattern, working_spans
from clinic.diary.models import (
    COMING,
    LONGEST,
    MOVABLE,
    Booking,
    Closure,
    ClosureKind,
    Resource,
    ResourceClaim,
    WorkingPattern,
)
from clinic.diary.models.bookings import BookingQuerySet
from clinic.diary.resources import Staff, staff_of

_DAY = 24 * 60
# West of Greenwich a day of UTC begins on the day before; a claim may last into the next.
_DAYS_READ = 3


@dataclass(frozen=True, slots=True)
class Miss:
    """Who or what is not there while the visit holds it (everybody: the site), and why."""

    whom: str
    why: StrOrPromise


@dataclass(frozen=True, slots=True)
class Outside:
    booking: Booking
    misses: Sequence[Miss]

    @property
    def may_move(self) -> bool:
        """Whoever is here already is seen here; nobody who died is given another time."""
        return self.booking.status in MOVABLE and self.booking.patient.died_on is None


@dataclass(frozen=True, slots=True)
class Closed:
    """resource_id None: everybody."""

    resource_id: int | None
    span: Span
    why: StrOrPromise


@dataclass(frozen=True, slots=True)
class Claim:
    booking_id: int
    visit_type_id: int
    resource_id: int
    need: str
    span: Span
    resource: str = ""


@dataclass(slots=True)
class Hours:
    """What decides about working time at a site. refused: which person (resource) does not do which kind of visit."""

    site: Site
    patterns: Mapping[int, Sequence[Pattern]]
    closed: Sequence[Closed]
    refused: Collection[tuple[int, int]]
    staff: Staff
    _open: dict[tuple[int, int], Sequence[Span]] = field(default_factory=dict)

    def but(
        self,
        *,
        patterns: Mapping[int, Sequence[Pattern]] | None = None,
        closed: Sequence[Closed] = (),
        refused: Collection[tuple[int, int]] = (),
    ) -> "Hours":
        """The same with other patterns for some resources, with more closures, with more that somebody does not do."""
        return replace(
            self,
            patterns={**self.patterns, **(patterns or {})},
            closed=[*self.closed, *closed],
            refused={*self.refused, *refused},
            _open={},
        )

    def left_out(self, claim: Claim) -> Sequence[Span]:
        """The minutes of the claim in which its resource is not there, or not for this."""
        if (claim.resource_id, claim.visit_type_id) in self.refused or not self._may(claim):
            return (claim.span,)
        return without([claim.span], self._open_around(claim.resource_id, claim.span[0] // _DAY))

    def holds(self, whole: Claim) -> bool:
        """Whether the resource is there for such a visit through the whole stretch."""
        start, end = whole.span
        open_ones = self._open_around(whole.resource_id, start // _DAY)
        is_done = (whole.resource_id, whole.visit_type_id) not in self.refused and self._may(whole)
        return is_done and any(first <= start and end <= last for first, last in open_ones)

    def miss(self, claim: Claim) -> Miss:
        for one in self.closed:
            if one.resource_id in {None, claim.resource_id} and _meet(one.span, claim.span):
                return Miss(claim.resource if one.resource_id else str(self.site), one.why)
        if (claim.resource_id, claim.visit_type_id) in self.refused:
            return Miss(claim.resource, _("does not do this kind of visit"))
        if not self._may(claim):
            return Miss(claim.resource, self.staff.why_not(claim.resource_id, self._day(claim)))
        return Miss(claim.resource, _("outside working hours"))

    def _may(self, claim: Claim) -> bool:
        return self.staff.may(claim.resource_id, claim.need, self._day(claim))

    def _day(self, claim: Claim) -> date:
        return to_instant(claim.span[0]).astimezone(self.site.zone).date()

    def _open_around(self, resource_id: int, day: int) -> Sequence[Span]:
        known = self._open.get((resource_id, day))
        if known is None:
            first_on = to_instant(day * _DAY).astimezone(self.site.zone).date()
            spans = working_spans(
                self.patterns.get(resource_id, ()), first_on=first_on, days=_DAYS_READ, zone=self.site.zone
            )
            holes = [one.span for one in self.closed if one.resource_id in {None, resource_id}]
            known = self._open[resource_id, day] = without(spans, holes)
        return known


def visits_outside(site: Site, *, now: datetime) -> list[Outside]:
    """Visits still to come or going on that hold somebody who is not there, or whose patient has died.

    Nine queries, however many they are.
    """
    hours = read_hours(site, now=now)
    claims = _doubtful_claims(hours, now)
    misses = _by_booking({claim: hours.miss(claim) for claim in claims if hours.left_out(claim)})
    died = Miss(gettext("The patient"), _("noted as having died; cancel the visit"))
    for pk in _standing(site, now).filter(patient__died_on__isnull=False).values_list("pk", flat=True):
        misses.setdefault(pk, {})[died] = None
    return _with_bookings(misses)


def hit_by(*, before: Hours, after: Hours, now: datetime) -> list[Outside]:
    """Those of which a change takes away working time that they had."""
    found = {}
    for claim in _doubtful_claims(after, now):
        lost = after.left_out(claim)
        if lost and without(lost, before.left_out(claim)):
            found[claim] = after.miss(claim)
    return _with_bookings(_by_booking(found))


def read_hours(site: Site, *, now: datetime) -> Hours:
    """The patterns, the closures that are not over, who does not do what, and who may do what. Five queries."""
    patterns = WorkingPattern.objects.filter(resource__site=site).by_resource()
    closed = [closed_by(one) for one in Closure.objects.coming(now).filter(site=site)]
    refused = Resource.without_visits.through.objects.filter(resource__site=site)
    return Hours(site, patterns, closed, set(refused.values_list("resource_id", "visittype_id")), staff_of(site))


def closed_by(closure: Closure) -> Closed:
    # The reason of a leave is between that person and the manager: the desk reads the kind only.
    why: StrOrPromise = closure.get_kind_display()
    if closure.kind == ClosureKind.HOLIDAY:
        why = closure.reason
    return Closed(closure.resource_id, (to_minute(closure.starts_at), to_minute_up(closure.ends_at)), why)


def unknown_to(agreed: Collection[int], visits: Sequence[Outside]) -> bool:
    """Whether somebody booked after the list was shown: it has to be looked at again."""
    return any(one.booking.pk not in agreed for one in visits)


def _doubtful_claims(hours: Hours, now: datetime) -> Iterator[Claim]:
    """Claims of the visits of which some resource is not there from its first moment with them to its last.

    That is asked first, as nearly every visit has its resources all through: a row for each instead of one
    for each segment. Two queries.
    """
    claims = ResourceClaim.objects.filter(booking__in=_standing(hours.site, now), active=True)
    columns = ("booking_id", "booking__visit_type_id", "resource_id", "need")
    # Nobody and nothing serves two needs of one visit.
    whole = claims.order_by().values_list(*columns).annotate(Min("start_at"), Max("end_at"))
    doubtful = {one.booking_id for one in map(_claim, whole) if not hours.holds(one)}
    each = claims.filter(booking__in=doubtful).order_by("start_at", "pk")
    yield from map(_claim, each.values_list(*columns, "start_at", "end_at", "resource__name"))


def _standing(site: Site, now: datetime) -> BookingQuerySet:
    # Whatever began earlier is over: without that bound every visit of the past would be looked at.
    coming = {"starts_at__gt": now - LONGEST, "ends_at__gt": now}
    return Booking.objects.filter(site=site, status__in=COMING, **coming).without_what_ran_out(now=now)


def _claim(row: tuple[Any, ...]) -> Claim:
    booking_id, visit_type_id, resource_id, need, start_at, end_at, *name = row
    return Claim(booking_id, visit_type_id, resource_id, need, (to_minute(start_at), to_minute_up(end_at)), *name)


def _by_booking(found: Mapping[Claim, Miss]) -> dict[int, dict[Miss, None]]:
    misses: dict[int, dict[Miss, None]] = {}
    for claim, miss in found.items():
        misses.setdefault(claim.booking_id, {})[miss] = None
    return misses


def _with_bookings(misses: Mapping[int, Mapping[Miss, None]]) -> list[Outside]:
    rows = Booking.objects.filter(pk__in=misses).select_related("patient", "visit_type", "site")
    return [Outside(row, list(misses[row.pk])) for row in rows.order_by("starts_at", "pk")]


def _meet(left: Span, right: Span) -> bool:
    return left[0] < right[1] and right[0] < left[1]
