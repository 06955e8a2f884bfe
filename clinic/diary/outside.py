"""Visits that lie outside working time, or would after a change. Worked out anew each time: no flag can go stale."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from django.db.models import Max, Min
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
        """Whoever is here already is seen here."""
        return self.booking.status in MOVABLE


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
    resource: str
    span: Span


@dataclass(slots=True)
class Hours:
    """What decides about working time at a site. refused: which person (resource) does not do which kind of visit."""

    site: Site
    patterns: Mapping[int, Sequence[Pattern]]
    closed: Sequence[Closed]
    refused: Collection[tuple[int, int]]
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
        if (claim.resource_id, claim.visit_type_id) in self.refused:
            return (claim.span,)
        return without([claim.span], self._open_around(claim.resource_id, claim.span[0] // _DAY))

    def holds(self, resource_id: int, visit_type_id: int, span: Span) -> bool:
        """Whether the resource is there for such a visit through the whole stretch."""
        start, end = span
        open_ones = self._open_around(resource_id, start // _DAY)
        is_done = (resource_id, visit_type_id) not in self.refused
        return is_done and any(first <= start and end <= last for first, last in open_ones)

    def miss(self, claim: Claim) -> Miss:
        for one in self.closed:
            if one.resource_id in {None, claim.resource_id} and _meet(one.span, claim.span):
                return Miss(claim.resource if one.resource_id else str(self.site), one.why)
        if (claim.resource_id, claim.visit_type_id) in self.refused:
            return Miss(claim.resource, _("does not do this kind of visit"))
        return Miss(claim.resource, _("outside working hours"))

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
    """Visits still to come or going on that hold somebody who is not there. Six queries, however many they are."""
    hours = read_hours(site, now=now)
    claims = _doubtful_claims(hours, now)
    return _with_bookings({claim: hours.miss(claim) for claim in claims if hours.left_out(claim)})


def hit_by(*, before: Hours, after: Hours, now: datetime) -> list[Outside]:
    """Those of which a change takes away working time that they had."""
    found = {}
    for claim in _doubtful_claims(after, now):
        lost = after.left_out(claim)
        if lost and without(lost, before.left_out(claim)):
            found[claim] = after.miss(claim)
    return _with_bookings(found)


def read_hours(site: Site, *, now: datetime) -> Hours:
    """The patterns, the closures that are not over, and who does not do what. Three queries."""
    patterns = WorkingPattern.objects.filter(resource__site=site).by_resource()
    closed = [closed_by(one) for one in Closure.objects.coming(now).filter(site=site)]
    refused = Resource.without_visits.through.objects.filter(resource__site=site)
    return Hours(site, patterns, closed, set(refused.values_list("resource_id", "visittype_id")))


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
    # Whatever began earlier is over: without that bound every visit of the past would be looked at.
    coming = {"starts_at__gt": now - LONGEST, "ends_at__gt": now}
    bookings = Booking.objects.filter(site=hours.site, status__in=COMING, **coming)
    claims = ResourceClaim.objects.filter(booking__in=bookings.without_what_ran_out(now=now), active=True)
    whole = claims.order_by().values_list("booking_id", "booking__visit_type_id", "resource_id")
    doubtful = {
        booking_id
        for booking_id, visit_type_id, resource_id, start_at, end_at in whole.annotate(Min("start_at"), Max("end_at"))
        if not hours.holds(resource_id, visit_type_id, (to_minute(start_at), to_minute_up(end_at)))
    }
    columns = claims.filter(booking__in=doubtful).values_list(
        "booking_id", "booking__visit_type_id", "resource_id", "resource__name", "start_at", "end_at"
    )
    for booking_id, visit_type_id, resource_id, name, start_at, end_at in columns.order_by("start_at", "pk"):
        yield Claim(booking_id, visit_type_id, resource_id, name, (to_minute(start_at), to_minute_up(end_at)))


def _with_bookings(found: Mapping[Claim, Miss]) -> list[Outside]:
    misses: dict[int, dict[Miss, None]] = {}
    for claim, miss in found.items():
        misses.setdefault(claim.booking_id, {})[miss] = None
    rows = Booking.objects.filter(pk__in=misses).select_related("patient", "visit_type", "site")
    return [Outside(row, list(misses[row.pk])) for row in rows.order_by("starts_at", "pk")]


def _meet(left: Span, right: Span) -> bool:
    return left[0] < right[1] and right[0] < left[1]
