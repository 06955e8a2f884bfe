"""Small practices made up at random, and which starts they really have: every minute is asked, one by one.

Plain Python that shares nothing with the program. A clock is only ever read: what it shows at each minute
of a day decides when a time of day is (RFC 5545, 3.3.5: a time shown twice is the first; one that is never
shown counts on from before the jump).
"""

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

GRID = 15
MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
SERVES = {
    "room": ("Willow", "Alder"),
    "examiner": ("Cleo Haddad", "Bo Lindqvist"),
    "clinician": ("Cleo Haddad", "Bo Lindqvist"),
    # Who treats may help as well, and is still one person.
    "assistant": ("Ari Zieliński", "Tam Nguyen", "Bo Lindqvist"),
    "light_hand_held": ("Lamp 1",),
    "light_arch": ("Arch 1",),
    "light_any": ("Lamp 1", "Arch 1"),
}
TREAT = ("examiner", "clinician")
NAMES = tuple(dict.fromkeys(itertools.chain.from_iterable(SERVES.values())))
Times = tuple[datetime, datetime]


@dataclass(frozen=True)
class Hours:
    weekday: int
    from_time: time
    to_time: time
    from_on: date
    until_on: date | None = None
    every_weeks: int = 1

    def on(self, day: date) -> bool:
        weeks = (day - timedelta(days=day.weekday()) - self.from_on + timedelta(days=self.from_on.weekday())).days // 7
        in_force = self.from_on <= day and (self.until_on is None or day < self.until_on)
        return day.weekday() == self.weekday and in_force and weeks % self.every_weeks == 0


@dataclass(frozen=True)
class Piece:
    """A segment. only_with_light: its light is wanted only where the visit has one."""

    minutes: int
    needs: tuple[str, ...]
    per_cycle: bool = False
    only_with_light: bool = False


@dataclass(frozen=True)
class Visit:
    """Another patient's. kind: what it is to somebody who looks for a time."""

    name: str
    times: Times
    kind: str

    @property
    def is_in_the_way(self) -> bool:
        return self.kind in {"booked", "held"}


@dataclass
class World:
    zone: str
    earliest_at: datetime
    latest_at: datetime
    pieces: Sequence[Piece]
    cycles: int = 0
    light_kind: str = ""
    person: str = ""
    weekdays: frozenset[int] = frozenset()
    not_before: time | None = None
    over_by: time | None = None
    hours: dict[str, list[Hours]] = field(default_factory=dict)
    closed: list[tuple[str, Times]] = field(default_factory=list)
    """Under no name: everybody."""
    visits: list[Visit] = field(default_factory=list)
    not_bookable: frozenset[str] = frozenset()
    does_not_do_it: frozenset[str] = frozenset()
    last_on: dict[str, date] = field(default_factory=dict)
    """Until when somebody is registered."""


def minute(at: datetime) -> int:
    return (at - EPOCH) // MINUTE


def instant(number: int) -> datetime:
    return EPOCH + number * MINUTE


def minutes_of(times: Times) -> range:
    """Every minute that the stretch touches."""
    return range(minute(times[0]), minute(times[1] - timedelta(microseconds=1)) + 1)


@lru_cache(maxsize=4096)
def clock(zone: str, day: date) -> Mapping[datetime, int]:
    """What the clock shows from the day before to the day after, and the first minute at which it does."""
    start = minute(datetime(day.year, day.month, day.day, tzinfo=UTC) - DAY)
    known = ZoneInfo(zone)
    shown: dict[datetime, int] = {}
    for number in range(start, start + 3 * 24 * 60):
        shown.setdefault(instant(number).astimezone(known).replace(tzinfo=None), number)
    return shown


@lru_cache(maxsize=65536)
def when(zone: str, day: date, at: time) -> int:
    """The minute of a time on the wall."""
    wanted, shown = datetime.combine(day, at), clock(zone, day)
    if wanted in shown:
        return shown[wanted]
    before = max(local for local in shown if local < wanted)
    return shown[before] + (wanted - before) // MINUTE


def shape(world: World) -> tuple[int, dict[str, list[range]]]:
    """The length, and for each need the minutes during which it is claimed, counted from the start."""
    at, claimed = 0, dict[str, list[range]]()
    for piece in world.pieces:
        minutes = piece.minutes * (world.cycles if piece.per_cycle else 1)
        for need in piece.needs:
            if need.startswith("light") and world.light_kind:
                claimed.setdefault(f"light_{world.light_kind}", []).append(range(at, at + minutes))
            elif not (need.startswith("light") and piece.only_with_light):
                claimed.setdefault(need, []).append(range(at, at + minutes))
        at += minutes
    return at, {need: [one for one in some if one] for need, some in claimed.items() if any(some)}


def candidates(world: World, need: str) -> list[str]:
    some = set(SERVES[need]) - world.not_bookable - world.does_not_do_it
    if need in TREAT and world.person:
        some &= {world.person}
    return [name for name in NAMES if name in some]


def free_minutes(world: World, name: str) -> set[int]:
    first_on, last_on = world.earliest_at.date() - DAY, world.latest_at.date() + 2 * DAY
    days = [first_on + timedelta(days=number) for number in range((last_on - first_on).days)]
    open_ones = {
        one
        for day in days
        for hours in world.hours.get(name, ())
        if hours.on(day)
        for one in range(when(world.zone, day, hours.from_time), when(world.zone, day, hours.to_time))
    }
    for whom, times in world.closed:
        if whom in {"", name}:
            open_ones.difference_update(minutes_of(times))
    for visit in world.visits:
        if visit.name == name and visit.is_in_the_way:
            open_ones.difference_update(minutes_of(visit.times))
    if name in world.last_on:
        end = when(world.zone, world.last_on[name] + DAY, time(0))
        open_ones = {one for one in open_ones if one < end}
    return open_ones


def wanted_starts(world: World) -> Iterator[int]:
    """Every quarter hour of the search that suits the patient."""
    length, _ = shape(world)
    known = ZoneInfo(world.zone)
    for start in range(minute(world.earliest_at), minute(world.latest_at) + 1):
        if start % GRID == 0 and world.earliest_at <= instant(start) < world.latest_at:
            day = instant(start).astimezone(known).date()
            if _suits(world, day, start, start + length):
                yield start


def _suits(world: World, day: date, start: int, end: int) -> bool:
    return (
        (not world.weekdays or day.weekday() in world.weekdays)
        and (world.not_before is None or when(world.zone, day, world.not_before) <= start)
        and (world.over_by is None or end <= when(world.zone, day, world.over_by))
    )


def fits(
    claimed: Mapping[str, Iterable[range]], free: Mapping[str, set[int]], start: int, who: Mapping[str, str]
) -> bool:
    """Everybody is another, and free in every minute that claims them."""
    return len(set(who.values())) == len(who) and all(
        start + one in free[who[need]]
        for need, stretches in claimed.items()
        for stretch in stretches
        for one in stretch
    )


def starts(world: World) -> list[int]:
    """By trying everybody at every quarter hour. What claims nobody and nothing is no visit."""
    _, claimed = shape(world)
    if not claimed:
        return []
    free = {name: free_minutes(world, name) for name in NAMES}
    ways = [
        dict(zip(claimed, chosen, strict=True))
        for chosen in itertools.product(*(candidates(world, need) for need in claimed))
    ]
    return [start for start in wanted_starts(world) if any(fits(claimed, free, start, who) for who in ways)]
