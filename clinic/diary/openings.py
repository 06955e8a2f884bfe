"""Times that really work: reads the diary in weekly windows and stops as soon as there are enough openings."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import islice

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site
from clinic.diary.claimed import claimed, closed
from clinic.diary.engine import search
from clinic.diary.engine.spans import Span, common, to_instant, to_minute, to_minute_up, without
from clinic.diary.engine.visit import Shape, Stretch
from clinic.diary.engine.wishes import Wishes
from clinic.diary.engine.working import instant, working_spans
from clinic.diary.lacking import FirstStarts
from clinic.diary.locks import ran_out
from clinic.diary.models import Resource, VisitType
from clinic.diary.resources import candidates, hours_of, last_days
from clinic.diary.shapes import shaped
from clinic.diary.usual import Worked

WINDOW_MINUTES = 7 * 24 * 60
FOR_EVER = 10**10
ANY_TIME = Wishes()
FIRST_OF_DAY = 3
Free = dict[int, list[Span]]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for. cycles and light_kind matter for treatment sessions only."""

    visit_type: VisitType
    cycles: int = 0
    light_kind: str = ""
    person: int | None = None
    wishes: Wishes = ANY_TIME
    without_booking: int | None = None
    """A booking whose own claims do not count: it is being moved."""
    only: Mapping[str, int] = field(default_factory=dict)
    """For some needs the one resource that is to serve them."""
    now: datetime | None = None
    """Holds and pencilled times that have run out by then are free already, whether or not a tick has come."""
    cycle_minutes: int = 0
    """What the plan says that one cycle lasts; 0 where there is no plan yet."""
    late_minutes: int = 0
    """The patient sits down so much later than planned; what comes before that stays where it is."""


@dataclass(frozen=True, slots=True)
class Opening:
    """start_at and end_at are instants; chosen names the resource for each need, parts when each is claimed."""

    start_at: datetime
    end_at: datetime
    chosen: dict[str, Resource]
    parts: dict[str, tuple[Stretch, ...]]
    day: date
    """The start's day on the wall clock of the site."""


@dataclass(frozen=True, slots=True)
class DayOfOpenings:
    """Every free start of one day of the site: the first ones at once, the later ones when somebody asks."""

    day: date
    first: Sequence[Opening]
    later: Sequence[Opening]


@dataclass(frozen=True, slots=True)
class Gap:
    """Days on which the practice works but this visit finds no time, and why."""

    until: date
    reasons: Sequence[StrOrPromise]


@dataclass(slots=True)
class Openings:
    """What was found, and what stands in the way: of all of it, or of the days before the first one."""

    found: list[Opening]
    reasons: list[StrOrPromise] = field(default_factory=list)
    gap: Gap | None = None
    lengths: Sequence[Worked] = ()
    """How long it takes and why; nothing for a visit that keeps the length it was booked with."""

    with_anyone: bool = True

    @property
    def shows_working(self) -> bool:
        return any(one.known for one in self.lengths)

    def by_day(self) -> list[DayOfOpenings]:
        days: dict[date, list[Opening]] = {}
        for one in self.found:
            days.setdefault(one.day, []).append(one)
        return [DayOfOpenings(day, some[:FIRST_OF_DAY], some[FIRST_OF_DAY:]) for day, some in days.items()]


def visit_shape(wanted: Wanted) -> Shape:
    """Length and claims of the visit. One query where it is booked already, otherwise three at most."""
    return shaped(wanted)[0]


def find(*, site: Site, wanted: Wanted, earliest_at: datetime, latest_at: datetime, limit: int = 8) -> Openings:
    """The first openings between two instants; reasons say what is missing when there are none."""
    return _find(site, wanted, earliest_at, latest_at, lambda found: islice(found, limit))


def find_days(*, site: Site, wanted: Wanted, earliest_at: datetime, latest_at: datetime, days: int = 5) -> Openings:
    """Every opening of the first days that have one."""
    return _find(site, wanted, earliest_at, latest_at, lambda found: _of_first_days(found, days))


def _of_first_days(found: Iterable[Opening], days: int) -> Iterator[Opening]:
    seen: set[date] = set()
    for one in found:
        seen.add(one.day)
        if len(seen) > days:
            return
        yield one


def _find(
    site: Site,
    wanted: Wanted,
    earliest_at: datetime,
    latest_at: datetime,
    enough: Callable[[Iterable[Opening]], Iterable[Opening]],
) -> Openings:
    look = Search(site=site, wanted=wanted, day=earliest_at.astimezone(site.zone).date())
    if not look.shape.parts:
        return Openings([], [_("this kind of visit has no length yet; a manager sets it in Set-up")])
    starts = FirstStarts()
    # Week by week, and no week is read once there is enough.
    found = list(enough(look.through(_windows(earliest_at, latest_at), starts)))
    gap = _gap(look, earliest_at, found[0]) if found else None
    reasons = [] if found else starts.reasons(site.zone)
    return Openings(found, reasons, gap, look.lengths, with_anyone=wanted.person is None)


def _gap(look: "Search", earliest_at: datetime, first: Opening) -> Gap | None:
    """Only of days on which such a visit is possible at all: that nobody works on a Sunday needs no words."""
    window = (to_minute_up(earliest_at), to_minute(instant(first.day, time(0), look.site.zone)))
    if window[0] >= window[1]:
        return None
    as_a_rule = look.free(window, claims=False, closures=False)
    if next(look.openings(window, as_a_rule), None) is None:
        return None
    starts = FirstStarts()
    starts.add(look.first_starts(window, look.free(window)))
    return Gap(first.day, starts.reasons(look.site.zone))


def _windows(earliest_at: datetime, latest_at: datetime) -> Iterator[Span]:
    """Weeks of whole minutes that meet without a gap: no start falls between two of them."""
    start, latest = to_minute_up(earliest_at), to_minute_up(latest_at)
    while start < latest:
        end = min(start + WINDOW_MINUTES, latest)
        yield start, end
        start = end


class Search:
    """What one search needs of the set-up, read once; claims and closures are read anew each time `free` is asked."""

    def __init__(self, *, site: Site, wanted: Wanted, day: date) -> None:
        self.site = site
        moved = [] if wanted.without_booking is None else [wanted.without_booking]
        self.looked_through = moved + (ran_out(site, now=wanted.now) if wanted.now else [])
        self.visit_type, self.wishes = wanted.visit_type, wanted.wishes
        self.shape, self.lengths = shaped(wanted)
        by_need = candidates(
            site,
            self.shape.parts,
            day=day,
            visit_type=wanted.visit_type,
            person=wanted.person,
            only=wanted.only,
        )
        self.ids = {need: [one.pk for one in some] for need, some in by_need.items()}
        self.resources = {one.pk: one for some in by_need.values() for one in some}
        self.patterns = hours_of(site)
        # Registration or indemnity ends inside the search: from the next day on that person is not there.
        self.gone = {
            pk: (to_minute(instant(last_on + timedelta(days=1), time(0), site.zone)), FOR_EVER)
            for pk, last_on in last_days(by_need).items()
        }

    def free(self, window: Span, *, claims: bool = True, closures: bool = True) -> Free:
        """Free stretches that may serve a visit starting inside the window (it may end after it).

        Without claims the visits of others are looked through: what would be free in an empty diary. Without
        closures too, what the working hours alone give.
        """
        start, end = window[0], window[1] + self.shape.minutes
        first_on, days = self._days(start, end)
        taken = closed(self.site, to_instant(start), to_instant(end)) if closures else {}
        if claims:
            held = claimed(self.resources, to_instant(start), to_instant(end), without=self.looked_through)
            for pk, spans in held.items():
                taken.setdefault(pk, []).extend(spans)
        return {
            pk: without(
                working_spans(self.patterns.get(pk, ()), first_on=first_on, days=days, zone=self.site.zone),
                [*taken.get(None, ()), *taken.get(pk, ()), *([self.gone[pk]] if pk in self.gone else ())],
            )
            for pk in self.resources
        }

    def through(self, windows: Iterable[Span], starts: FirstStarts) -> Iterator[Opening]:
        """Openings of one window after the other; for what leaves one without any more, when each need could be met."""
        for window in windows:
            free = self.free(window)
            yield from self.openings(window, free)
            starts.add(self.first_starts(window, free))

    def openings(self, window: Span, free: Free) -> Iterator[Opening]:
        if not self.shape.parts:
            return
        for found in search.find(self.shape, candidates=self.ids, free=free, within=self._within(window)):
            yield Opening(
                to_instant(found.start),
                to_instant(found.start + found.minutes),
                {need: self.resources[pk] for need, pk in found.chosen},
                self.shape.parts,
                to_instant(found.start).astimezone(self.site.zone).date(),
            )

    def first_starts(self, window: Span, free: Free) -> dict[str, int | None]:
        return search.first_starts(self.shape, candidates=self.ids, free=free, within=self._within(window))

    def _within(self, window: Span) -> list[Span]:
        """The part of the window that suits the patient."""
        if self.wishes.any_time:
            return [window]
        first_on, days = self._days(*window)
        suited = self.wishes.starts(minutes=self.shape.minutes, first_on=first_on, days=days, zone=self.site.zone)
        return common([window], suited)

    def _days(self, start: int, end: int) -> tuple[date, int]:
        first_on = to_instant(start).astimezone(self.site.zone).date()
        return first_on, (to_instant(end).astimezone(self.site.zone).date() - first_on).days + 1

    def exactly(self, start_at: datetime, *, claims: bool = True) -> Opening | None:
        """The opening at this start. A start between two quarter hours is on no grid: it is not an opening."""
        minute = to_minute_up(start_at)
        window = (minute, minute + 1)
        found = next(self.openings(window, self.free(window, claims=claims)), None)
        return found if found is not None and found.start_at == start_at else None
