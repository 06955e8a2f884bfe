"""Visits that lie outside working time, or would after a change. Worked out anew each time: no flag can go stale."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site
from clinic.diary.engine.spans import Span, to_instant, to_minute, to_minute_up, without
from clinic.diary.engine.working import Pattern, working_spans
from clinic.diary.models import COMING, MOVABLE, Booking, Closure, ResourceClaim, WorkingPattern

_DAY = 24 * 60
# West of Greenwich a day of UTC begins on the day before; a claim may last into the next.
_DAYS_READ = 3


@dataclass(frozen=True, slots=True)
class Miss:
    """Whom or what the visit holds while it is not there, and why it is not."""

    resource: str
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
    resource_id: int
    resource: str
    span: Span


@dataclass(slots=True)
class Hours:
    """What decides about working time at a site."""

    zone: ZoneInfo
    patterns: Mapping[int, Sequence[Pattern]]
    closed: Sequence[Closed]
    _open: dict[tuple[int, int], Sequence[Span]] = field(default_factory=dict)

    def but(self, *, patterns: Mapping[int, Sequence[Pattern]] | None = None, closed: Sequence[Closed] = ()) -> "Hours":
        """The same with other patterns for some resources, or more closures."""
        held = {**self.patterns, **(patterns or {})}
        return replace(self, patterns=held, closed=[*self.closed, *closed], _open={})

    def left_out(self, claim: Claim) -> Sequence[Span]:
        """The minutes of the claim in which its resource is not there."""
        start, end = claim.span
        open_ones = self._open_around(claim.resource_id, start // _DAY)
        if any(first <= start and end <= last for first, last in open_ones):
            return ()
        return without([claim.span], open_ones)

    def why(self, claim: Claim) -> StrOrPromise:
        for one in self.closed:
            if one.resource_id in {None, claim.resource_id} and _meet(one.span, claim.span):
                return one.why
        return _("outside working hours")

    def _open_around(self, resource_id: int, day: int) -> Sequence[Span]:
        known = self._open.get((resource_id, day))
        if known is None:
            first_on = to_instant(day * _DAY).astimezone(self.zone).date()
            spans = working_spans(
                self.patterns.get(resource_id, ()), first_on=first_on, days=_DAYS_READ, zone=self.zone
            )
            holes = [one.span for one in self.closed if one.resource_id in {None, resource_id}]
            known = self._open[resource_id, day] = without(spans, holes)
        return known


def visits_outside(site: Site, *, now: datetime) -> list[Outside]:
    """Visits still to come or going on that hold somebody who is not there. Four queries, however many they are."""
    hours = read_hours(site, now=now)
    return _with_bookings({claim: hours.why(claim) for claim in _claims(site, now) if hours.left_out(claim)})


def hit_by(site: Site, *, before: Hours, after: Hours, now: datetime) -> list[Outside]:
    """Those of which a change takes away working time that they had."""
    found = {}
    for claim in _claims(site, now):
        lost = after.left_out(claim)
        if lost and without(lost, before.left_out(claim)):
            found[claim] = after.why(claim)
    return _with_bookings(found)


def read_hours(site: Site, *, now: datetime) -> Hours:
    """The patterns, and the closures that are not over. Two queries."""
    patterns = WorkingPattern.objects.filter(resource__site=site).by_resource()
    return Hours(site.zone, patterns, [closed_by(one) for one in Closure.objects.coming(now).filter(site=site)])


def closed_by(closure: Closure) -> Closed:
    # The reason of a leave is between that person and the manager: the desk reads the kind only.
    why = closure.get_kind_display()
    return Closed(closure.resource_id, (to_minute(closure.starts_at), to_minute_up(closure.ends_at)), why)


def unknown_to(agreed: Collection[int], visits: Sequence[Outside]) -> bool:
    """Whether somebody booked after the list was shown: it has to be looked at again."""
    return any(one.booking.pk not in agreed for one in visits)


def _claims(site: Site, now: datetime) -> Iterator[Claim]:
    rows = ResourceClaim.objects.filter(
        booking__site=site, booking__status__in=COMING, booking__ends_at__gt=now, active=True
    )
    columns = rows.order_by("start_at", "pk").values_list(
        "booking_id", "resource_id", "resource__name", "start_at", "end_at"
    )
    for booking_id, resource_id, name, start_at, end_at in columns:
        yield Claim(booking_id, resource_id, name, (to_minute(start_at), to_minute_up(end_at)))


def _with_bookings(found: Mapping[Claim, StrOrPromise]) -> list[Outside]:
    misses: dict[int, dict[Miss, None]] = {}
    for claim, why in found.items():
        misses.setdefault(claim.booking_id, {})[Miss(claim.resource, why)] = None
    rows = Booking.objects.filter(pk__in=misses).select_related("patient", "visit_type", "site")
    return [Outside(row, list(misses[row.pk])) for row in rows.order_by("starts_at", "pk")]


def _meet(left: Span, right: Span) -> bool:
    return left[0] < right[1] and right[0] < left[1]
