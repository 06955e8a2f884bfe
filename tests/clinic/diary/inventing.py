"""Makes up a small practice: its hours, what is closed and booked, and what somebody looks for. A number, a world."""

from datetime import date, datetime, time, timedelta
from random import Random

from tests.clinic.diary.ics import NIGHTS
from tests.clinic.diary.worlds import DAY, MINUTE, NAMES, SERVES, Hours, Piece, Times, Visit, World, instant, when

PLAIN = [
    ("Europe/London", date(2026, 6, 3)),
    ("Asia/Kolkata", date(2026, 12, 31)),
    # A year of 53 weeks ends, for those who work in every other one.
    ("America/New_York", date(2026, 12, 31)),
]
KINDS = ["booked", "booked", "booked", "held", "hold ran out", "cancelled", "moved"]


def invent(number: int) -> World:
    """Half of them lie in a night in which the clock changes."""
    random = Random(number)  # noqa: S311  (a made-up practice, not a secret)
    zone, day = random.choice(NIGHTS) if number % 2 else random.choice(PLAIN)
    # One in eight looks through more than a week.
    first_on, days = (day - timedelta(days=random.randint(3, 7)), 9) if number % 8 == 1 else (day - DAY, 2)
    start = instant(when(zone, first_on, time(random.randint(0, 23), random.choice([0, 15, 7]))))
    world = World(
        zone=zone,
        earliest_at=start + timedelta(seconds=random.choice([0, 0, 30])),
        latest_at=start + timedelta(days=days, minutes=random.choice([0, 11])),
        pieces=[_piece(random) for _ in range(random.randint(1, 3))],
        cycles=random.randint(0, 2),
        light_kind=random.choice(["", "", "arch", "hand_held"]),
        person=random.choice(["", "", "", *SERVES["clinician"]]),
        not_bookable=frozenset(name for name in NAMES if random.random() < 0.1),
        does_not_do_it=frozenset(name for name in SERVES["assistant"] if random.random() < 0.1),
    )
    for name in NAMES:
        world.hours[name] = [hours for n in range(days + 2) for hours in _hours(random, first_on + n * DAY)]
    if random.random() < 0.3:
        world.last_on["Cleo Haddad"] = world.earliest_at.date() + random.randint(0, days) * DAY
    _wish(random, world)
    world.closed = [(random.choice(["", *NAMES]), _stretch(random, world)) for _ in range(random.randint(0, 4))]
    _book(random, world)
    return world


def _piece(random: Random) -> Piece:
    needs = {"room"} if random.random() < 0.8 else set()
    needs |= {one for one in ("examiner", "clinician", "assistant") if random.random() < 0.35}
    needs |= {"light_any"} if random.random() < 0.3 else set()
    return Piece(random.randint(1, 35), tuple(sorted(needs)), random.random() < 0.3, random.random() < 0.5)


def _hours(random: Random, day: date) -> list[Hours]:
    """One stretch or two, at any minute: also at those that a clock shows twice or never."""
    cuts = sorted(random.sample(range(24 * 60), 4))
    times = [time(cut // 60, cut % 60) for cut in cuts]
    from_on = day - random.choice([0, 7, 14, 21]) * DAY
    until_on = random.choice([None, None, day + DAY, day])
    every = random.choice([1, 1, 2])
    pairs = [(times[0], times[1]), (times[2], times[3])] if random.random() < 0.5 else [(times[0], times[3])]
    if until_on == from_on:
        until_on = None
    return [Hours(day.weekday(), start, end, from_on, until_on, every) for start, end in pairs]


def _stretch(random: Random, world: World) -> Times:
    start = world.earliest_at + random.random() * (world.latest_at - world.earliest_at)
    return start, start + timedelta(minutes=random.randint(1, 240), seconds=random.choice([0, 20]))


def _wish(random: Random, world: World) -> None:
    if random.random() < 0.3:
        world.weekdays = frozenset(random.sample(range(7), 4))
    if random.random() < 0.3:
        world.not_before = time(random.randint(0, 12), random.choice([0, 30, 50]))
    if random.random() < 0.3:
        world.over_by = time(random.randint(2, 23), random.choice([0, 30, 50]))


def _book(random: Random, world: World) -> None:
    """Visits of which no two hold the same at the same time, as the database would refuse the second one."""
    for _ in range(random.randint(0, 14)):
        start, end = (one.replace(second=0, microsecond=0) for one in _stretch(random, world))
        # One at most is the visit that is being moved.
        kinds = KINDS[:-1] if any(one.kind == "moved" for one in world.visits) else KINDS
        visit = Visit(random.choice(NAMES), (start, min(end, start + 90 * MINUTE) + MINUTE), random.choice(kinds))
        others = (one for one in world.visits if one.name == visit.name)
        if visit.kind == "cancelled" or not any(_meet(visit.times, one.times) for one in others):
            world.visits.append(visit)


def _meet(left: tuple[datetime, datetime], right: tuple[datetime, datetime]) -> bool:
    return left[0] < right[1] and right[0] < left[1]
