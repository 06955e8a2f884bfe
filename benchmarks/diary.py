"""Finding a time, a day's page and giving a time, in a diary of a million visits; and whether its size matters."""

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmarks import crowd, plain, yardsticks
from benchmarks.crowd import LARGE, SMALL, SPARSE, TODAY
from benchmarks.frame import Figure, Result, Target
from tests import prepared

if TYPE_CHECKING:
    from clinic.diary.models import VisitType
    from clinic.diary.openings import Opening
    from tests.cast import Cast

MINUTES, FIRST, HORIZON = 75, 20, 90
# From which day on the next months are booked as full as that.
OCCUPANCY = {"0.6": 2, "0.9": SPARSE + 2}
FLAT = Target(limit=1.5, of="ratio")
ROUNDS = 15
A_DAYS_ROUNDS = 24


@dataclass(frozen=True, slots=True)
class House:
    """One database with its practice in it."""

    name: str
    cast: "Cast"
    visit_type: "VisitType"
    kinds: Mapping[str, Sequence[int]]

    def use(self) -> Any:
        return crowd.use(self.name)


def results() -> Iterator[Result]:
    with tempfile.TemporaryDirectory(prefix="casebook-bench-") as folder, crowd.cluster(Path(folder)) as running:
        os.environ[prepared.HOME] = folder
        houses = {
            "large": furnished(running, "large", LARGE, home=Path(folder)),
            **{
                f"small {occupancy}": furnished(running, f"small_{day}", SMALL, home=Path(folder), from_day=day)
                for occupancy, day in OCCUPANCY.items()
            },
        }
        for occupancy, day in OCCUPANCY.items():
            yield from finding(occupancy, day, houses["large"], houses[f"small {occupancy}"])
        yield from day_page(houses["large"], houses["small 0.6"])
        yield from giving(houses["large"], houses["small 0.6"])


def finding(occupancy: str, day: int, large: House, small: House) -> Iterator[Result]:
    earliest_at = instant(day)
    start = int(earliest_at.timestamp()) // 60
    asked = yardsticks.Question(
        kinds=large.kinds, start=start, minutes=MINUTES, hours=(crowd.FROM, crowd.UNTIL), limit=FIRST, days=HORIZON
    )
    cursor = large.use().cursor()
    ours = partial(found, large, earliest_at)
    expected = [int(one.start_at.timestamp()) // 60 for one in ours()]
    weeks = 1 + (expected[-1] - start) // yardsticks.WEEK
    ways: dict[str, tuple[Callable[[], list[int]], float, int, int]] = {
        "a bare script that reads the same weeks": (partial(yardsticks.bare, cursor, asked), 5, ROUNDS, 1),
        "nested EXISTS in SQL": (partial(yardsticks.nested, cursor, asked), 0.1, 5, 1),
        "OR-Tools CP-SAT": (partial(yardsticks.solved, cursor, asked), 0.005, 5, 5),
    }
    size = {"visits": LARGE.visits, "openings": len(expected), "weeks": weeks}
    for name, (way, limit, rounds, repeats) in ways.items():
        assert way() == expected, f"{name} finds other times"
        target = Target(limit=limit, of="ratio")
        figure = f"find a time, {occupancy} booked, beside {name}"
        yield measured(figure, ours, name, way, target, size, rounds=rounds, repeats=repeats)
    few = partial(found, small, earliest_at)
    yield measured(f"find a time, {occupancy} booked: size of the diary", ours, "10,000 visits", few, FLAT, size)


def day_page(large: House, small: House) -> Iterator[Result]:
    pages = {house.name: plain.visitor(house) for house in (large, small)}
    queries = pages["large"].queries()
    assert queries <= 12, f"the day page asks {queries} queries"
    size = {"visits": LARGE.visits, "visits of the day": crowd.VISITS_OF_PAGE, "queries": queries}
    yield measured(
        "day page: 150 visits",
        pages["large"].day,
        "a page of 50 rows from one query",
        pages["large"].rows,
        Target(limit=8, of="ratio"),
        size,
    )
    yield measured(
        "day page: size of the diary", pages["large"].day, "10,000 visits", pages[small.name].day, FLAT, size
    )


def giving(large: House, small: House) -> Iterator[Result]:
    from benchmarks.giving import Giving  # noqa: PLC0415  (reads models)

    size = {"visits": LARGE.visits, "claims": 3}
    many, few = Giving(large), Giving(small)
    yield measured(
        "give a time: claims, locks and constraint",
        many.guarded,
        "the same rows inserted bare",
        many.bare,
        Target(limit=2, of="ratio"),
        size,
    )
    # PostgreSQL plans a statement anew until it has seen it some times on one connection: a day has more than that.
    yield measured(
        "give a time: the whole action",
        many.whole,
        "10,000 visits",
        few.whole,
        Target(limit=25, of="value"),
        size,
        rounds=A_DAYS_ROUNDS,
    )
    yield measured("give a time: size of the diary", many.whole, "10,000 visits", few.whole, FLAT, size)


def measured(
    name: str,
    run: Callable[[], object],
    yardstick: str,
    yardstick_run: Callable[[], object],
    target: Target,
    size: dict[str, int],
    *,
    rounds: int = ROUNDS,
    repeats: int = 1,
) -> Result:
    return Figure(
        name=name,
        run=run,
        yardstick=yardstick,
        yardstick_run=yardstick_run,
        target=target,
        size=size,
        rounds=rounds,
        run_repeats=repeats,
    ).measure()


def found(house: House, earliest_at: datetime, *, limit: int = FIRST) -> "list[Opening]":
    from clinic.diary.openings import Wanted, find  # noqa: PLC0415  (Django is set up by now)

    house.use()
    wanted = Wanted(house.visit_type, light_kind="arch", now=earliest_at)
    latest_at = earliest_at + timedelta(days=HORIZON)
    site = house.cast.fernbrook
    return find(site=site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at, limit=limit).found


def instant(day: int) -> datetime:
    return datetime.combine(TODAY + timedelta(days=day), time(0), tzinfo=UTC)


def furnished(running: Any, name: str, size: crowd.Size, *, home: Path, from_day: int = -crowd.DAYS_BEFORE) -> House:
    (home / name).mkdir()
    connection = crowd.connect(running, name, home=home / name)
    from tests.cast import open_practice  # noqa: PLC0415

    cast = open_practice()
    cast.fernbrook.timezone = "UTC"
    cast.fernbrook.save()
    visit_type, kinds = _resources(cast)
    with crowd.without_indexes(connection, "clinic_patients_patient", "clinic_patients_namekey"):
        crowd.add_patients(connection, size.patients, site=cast.fernbrook.pk)
    resources = [pk for ids in kinds.values() for pk in ids]
    crowd.add_visits(
        connection,
        size,
        site=cast.fernbrook.pk,
        visit_type=visit_type.pk,
        resources=resources,
        from_day=from_day,
    )
    house = House(name, cast, visit_type, kinds)
    plain.fill_page_day(house)
    connection.cursor().execute("VACUUM (ANALYZE)")
    return house


def _resources(cast: "Cast") -> "tuple[VisitType, dict[str, list[int]]]":
    from clinic.accounts.models import Role  # noqa: PLC0415
    from clinic.diary.models import Resource, Segment, SegmentNeed, VisitType, WorkingPattern  # noqa: PLC0415
    from tests.cast import hire  # noqa: PLC0415

    site = cast.fernbrook
    made: dict[str, list[Resource]] = {
        "room": [Resource(site=site, kind="room", name=f"Room {n}", position=n) for n in range(crowd.ROOMS)],
        "clinician": [
            Resource(
                site=site,
                kind="person",
                name=f"Person {n}",
                position=n,
                person=hire(site, Role.CLINICIAN, name=f"Person {n}", email=f"n{n}@example.org", may_carry_out=True),
            )
            for n in range(crowd.CLINICIANS)
        ],
        "light_arch": [
            Resource(site=site, kind="light", name=f"Lamp {n}", position=n, light_kind="arch")
            for n in range(crowd.LAMPS)
        ],
    }
    for rows in made.values():
        Resource.objects.bulk_create(rows)
    hours = {"from_time": crowd.OPENS, "to_time": crowd.CLOSES, "from_on": date(2020, 1, 1)}
    WorkingPattern.objects.bulk_create(
        WorkingPattern(resource=one, weekday=day, **hours) for rows in made.values() for one in rows for day in range(7)
    )
    visit_type = VisitType.objects.create(site=site, code="other", name="Long visit")
    segment = Segment.objects.create(visit_type=visit_type, position=0, name="all", minutes=MINUTES)
    for need in ("room", "clinician", "light_any"):
        SegmentNeed.objects.create(segment=segment, need=need)
    return visit_type, {need: [one.pk for one in rows] for need, rows in made.items()}
