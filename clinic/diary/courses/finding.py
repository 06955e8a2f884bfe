"""Whole courses that really fit: the engine's days over what the diary has free, read only as far as a course goes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site
from clinic.diary import openings
from clinic.diary.engine import course
from clinic.diary.engine.course import Gap
from clinic.diary.engine.spans import Span, to_minute_up
from clinic.diary.engine.working import instant
from clinic.diary.models import COMING, Booking
from clinic.diary.openings import Opening, Search, Wanted
from clinic.patients.models import Patient

PROPOSALS_MOST = 3
# So many days are read at a time: a course goes by weeks, and each reading is two queries.
BLOCK_DAYS = 28


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One visit of the course that is looked for, and between which days it may be whatever the others do."""

    name: StrOrPromise
    wanted: Wanted
    first_on: date
    last_on: date


@dataclass(frozen=True, slots=True)
class Step:
    """One visit of a proposal. days: since the visit before it."""

    visit: Visit
    opening: Opening
    days: int | None


@dataclass(frozen=True, slots=True)
class Proposal:
    steps: Sequence[Step]

    @property
    def value(self) -> str:
        """What a press sends: the instants in order."""
        return ",".join(f"{step.opening.start_at:%Y-%m-%dT%H:%M:%S%z}" for step in self.steps)


@dataclass(frozen=True, slots=True)
class Obstacle:
    """The visit that finds no time behind those before it. first_on is after last_on where they leave it no day."""

    visit: Visit
    first_on: date
    last_on: date
    reasons: Sequence[StrOrPromise]

    @property
    def leaves_no_day(self) -> bool:
        return self.first_on > self.last_on


@dataclass(frozen=True, slots=True)
class Courses:
    proposals: Sequence[Proposal]
    obstacle: Obstacle | None = None


def find_courses(
    *, patient: Patient, visits: Sequence[Visit], gaps: Sequence[Gap], now: datetime, most: int = PROPOSALS_MOST
) -> Courses:
    """The earliest courses; where there is none, which visit is in the way and why."""
    diaries = _diaries(patient, visits, now)
    places = [
        course.Place(diary.days, visit.first_on.toordinal(), visit.last_on.toordinal())
        for visit, diary in zip(visits, diaries, strict=True)
    ]
    found = course.proposals(places, gaps, most=most)
    if found:
        return Courses([_proposal(visits, diaries, days) for days in found])
    blocked = course.in_the_way(places, gaps)
    return Courses([], _obstacle(patient.site, visits, blocked, now) if blocked else None)


def _proposal(visits: Sequence[Visit], diaries: Sequence["OpenDays"], days: Sequence[int]) -> Proposal:
    since = [None, *(later - earlier for earlier, later in pairwise(days))]
    rows = zip(visits, diaries, days, since, strict=True)
    return Proposal([Step(visit, diary.first_of(day), gone) for visit, diary, day, gone in rows])


def _diaries(patient: Patient, visits: Sequence[Visit], now: datetime) -> list["OpenDays"]:
    """One for each kind of visit, however often it comes in the course."""
    busy = _busy(patient, now)
    first_on = min((visit.first_on for visit in visits), default=now.date())
    known: list[tuple[Wanted, OpenDays]] = []
    found = []
    for visit in visits:
        same = next((diary for wanted, diary in known if wanted == visit.wanted), None)
        if same is None:
            same = OpenDays(site=patient.site, wanted=visit.wanted, first_on=first_on, busy=busy, now=now)
            known.append((visit.wanted, same))
        found.append(same)
    return found


def _busy(patient: Patient, now: datetime) -> list[tuple[datetime, datetime]]:
    """Nobody sits in two chairs: times at which the patient is here already."""
    rows = Booking.objects.filter(patient=patient, status__in=COMING, ends_at__gt=now).without_ended_holds(now=now)
    return list(rows.values_list("starts_at", "ends_at"))


class OpenDays:
    """The days with a time for one kind of visit, and the first time of each; read block by block when asked for."""

    def __init__(
        self, *, site: Site, wanted: Wanted, first_on: date, busy: Sequence[tuple[datetime, datetime]], now: datetime
    ) -> None:
        self._search = Search(site=site, wanted=wanted, day=first_on)
        self._base = first_on.toordinal()
        self._busy = busy
        self._now = now
        self._blocks: dict[int, dict[int, Opening]] = {}

    def days(self, first: int, last: int) -> Iterator[int]:
        for number in range(self._number(first), self._number(last) + 1):
            yield from (day for day in self._block(number) if first <= day <= last)

    def first_of(self, day: int) -> Opening:
        return self._block(self._number(day))[day]

    def _number(self, day: int) -> int:
        return (day - self._base) // BLOCK_DAYS

    def _block(self, number: int) -> dict[int, Opening]:
        if number not in self._blocks:
            self._blocks[number] = self._read(self._base + number * BLOCK_DAYS)
        return self._blocks[number]

    def _read(self, first: int) -> dict[int, Opening]:
        window = self._window(first)
        found: dict[int, Opening] = {}
        if window[0] < window[1]:
            for opening in self._search.openings(window, self._search.free(window)):
                if self._suits(opening):
                    found.setdefault(opening.day.toordinal(), opening)
        return found

    def _window(self, first: int) -> Span:
        zone = self._search.site.zone
        start_at, end_at = (instant(date.fromordinal(day), time(0), zone) for day in (first, first + BLOCK_DAYS))
        return to_minute_up(max(start_at, self._now)), to_minute_up(end_at)

    def _suits(self, opening: Opening) -> bool:
        return all(opening.end_at <= start or end <= opening.start_at for start, end in self._busy)


def _obstacle(site: Site, visits: Sequence[Visit], blocked: course.InTheWay, now: datetime) -> Obstacle:
    visit = visits[blocked.place]
    first_on, last_on = date.fromordinal(blocked.first), date.fromordinal(blocked.last)
    return Obstacle(visit, first_on, last_on, _reasons(site, visit, first_on, last_on, now))


def _reasons(site: Site, visit: Visit, first_on: date, last_on: date, now: datetime) -> Sequence[StrOrPromise]:
    if first_on > last_on:
        return [_("the visits before it leave no day for it")]
    found = openings.find(
        site=site,
        wanted=visit.wanted,
        earliest_at=max(instant(first_on, time(0), site.zone), now),
        latest_at=instant(last_on + timedelta(days=1), time(0), site.zone),
        limit=1,
    )
    return found.reasons or [_("the free times do not keep the distance to the visits before, or the patient is here")]
