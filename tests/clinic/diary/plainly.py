"""A diary as a plain list of visits, and what it answers to everything that a desk tries."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from tests.clinic.diary.worlds import DAY, MINUTE, Hours, Piece, Times, Visit, World, minutes_of, starts
from tests.clinic.diary.worlds import free_minutes as free

TURN_ROUND = timedelta(minutes=15)
DONE, PAST, CLOSED, TAKEN, BUSY, NOT_NOW, HOLD_OVER, OUTSIDE = (
    "done",
    "InThePast",
    "OutsideOpeningHours",
    "SlotTaken",
    "PatientBusy",
    "NotPossibleNow",
    "HoldEnded",
    "VisitsOutside",
)
COMING = {"proposed", "pending", "booked"}


@dataclass
class Kept:
    """One visit. claims: who or what it holds, and when. before: what it was until it was cancelled by a person."""

    pk: int
    patient: int
    pieces: Sequence[Piece]
    status: str
    times: Times
    claims: list[tuple[str, Times]]
    lapses_at: datetime | None = None
    before: str = ""
    cancelled_at: datetime | None = None

    def is_over(self, now: datetime) -> bool:
        """A hold or a pencilled time that ran out counts for nothing, whether or not anybody has noticed."""
        return self.status in {"pending", "proposed"} and self.lapses_at is not None and self.lapses_at <= now


@dataclass
class Diary:
    zone: str
    now: datetime
    days: Mapping[str, dict[date, list[tuple[time, time]]]]
    """Who works when, day by day."""
    kept: list[Kept] = field(default_factory=list)
    closed: list[tuple[str, Times]] = field(default_factory=list)

    def standing(self, *, without: Kept | None = None) -> Iterator[Kept]:
        for one in self.kept:
            if one is not without and one.status in COMING and not one.is_over(self.now):
                yield one

    def world(self, pieces: Sequence[Piece], times: Times, *, without: Kept | None = None, person: str = "") -> World:
        return World(
            zone=self.zone,
            earliest_at=times[0],
            latest_at=times[1],
            pieces=pieces,
            person=person,
            hours={name: list(_hours(days)) for name, days in self.days.items()},
            closed=self.closed,
            visits=[Visit(name, span, "booked") for one in self.standing(without=without) for name, span in one.claims],
        )

    def place(
        self,
        pieces: Sequence[Piece],
        start_at: datetime,
        patient: int,
        *,
        without: Kept | None = None,
        person: str = "",
    ) -> str:
        """What is said to somebody who wants this visit at this time."""
        if start_at < self.now:
            return PAST
        world = self.world(pieces, (start_at, start_at + MINUTE), without=without, person=person)
        if not starts(world):
            world.visits = []
            return TAKEN if starts(world) else CLOSED
        length = sum(one.minutes for one in pieces) * MINUTE
        return DONE if self._patient_is_free(patient, (start_at, start_at + length), without) else BUSY

    def move(self, one: Kept, start_at: datetime) -> str:
        if start_at < self.now:
            return PAST
        if one.status not in {"proposed", "booked"}:
            return NOT_NOW
        if one.is_over(self.now):
            return "PencilEnded"
        return self.place(one.pieces, start_at, one.patient, without=one)

    def cancel(self, one: Kept) -> str:
        if one.status not in {"proposed", "booked"}:
            return NOT_NOW
        one.before, one.status, one.cancelled_at = one.status, "cancelled", self.now
        return DONE

    def restore(self, one: Kept) -> str:
        """Comes back to its own time as long as that is free, whatever the hours are now."""
        known = ZoneInfo(self.zone)
        if one.status != "cancelled" or not one.before or one.cancelled_at is None:
            return NOT_NOW
        if one.cancelled_at.astimezone(known).date() != self.now.astimezone(known).date():
            return "NotYoursToTakeBack"
        if one.times[0] < self.now:
            return PAST
        if one.lapses_at is not None and one.lapses_at <= self.now:
            return NOT_NOW
        if not self._patient_is_free(one.patient, one.times, one):
            return BUSY
        others = [claim for other in self.standing(without=one) for claim in other.claims]
        if any(name == whom and _meet(span, times) for name, span in one.claims for whom, times in others):
            return TAKEN
        one.status, one.before, one.cancelled_at = one.before, "", None
        return DONE

    def book_held(self, one: Kept) -> str:
        if one.status == "released" or (one.status == "pending" and one.is_over(self.now)):
            return HOLD_OVER
        if one.status != "pending":
            return NOT_NOW
        one.status, one.lapses_at = "booked", None
        return DONE

    def lapse(self) -> None:
        for one in self.kept:
            if one.status == "proposed" and one.lapses_at is not None and one.lapses_at <= self.now:
                one.status = "cancelled"

    def changed(self, name: str, day: date, stretches: list[tuple[time, time]]) -> "Diary":
        days = {**self.days, name: {**self.days[name], day: stretches}}
        return Diary(self.zone, self.now, days, self.kept, self.closed)

    def shut(self, name: str, times: Times) -> "Diary":
        return Diary(self.zone, self.now, self.days, self.kept, [*self.closed, (name, times)])

    def hit(self, after: "Diary") -> set[int]:
        """Visits to come, or going on, that would lose somebody who was there for them."""
        return {
            one.pk
            for one in self.standing()
            for name, span in one.claims
            if one.times[1] > self.now and self._open(name, span) - after._open(name, span) & set(minutes_of(span))
        }

    def _open(self, name: str, span: Times) -> set[int]:
        world = self.world((), span)
        world.visits = []
        return free(world, name) & set(minutes_of(span))

    def _patient_is_free(self, patient: int, times: Times, without: Kept | None) -> bool:
        """The last minutes of a visit are turn-round: the patient has left the chair."""
        inner = (times[0] + TURN_ROUND, times[1] - TURN_ROUND)
        others = [one.times for one in self.standing(without=without) if one.patient == patient]
        return not any(other[0] == times[0] or _meet(other, inner) for other in others)


def _hours(days: Mapping[date, Sequence[tuple[time, time]]]) -> Iterator[Hours]:
    for day, stretches in days.items():
        for start, end in stretches:
            yield Hours(day.weekday(), start, end, day, day + DAY)


def _meet(left: Times, right: Times) -> bool:
    return left[0] < right[1] and right[0] < left[1]
