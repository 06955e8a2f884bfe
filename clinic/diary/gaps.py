"""What is still free today: a room together with somebody to work in it, and the visits that fit there.

A number of queries that grows with the kinds of visit and with nothing else.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from urllib.parse import urlencode

from clinic.accounts.models import Site
from clinic.diary.engine.search import GRID_MINUTES
from clinic.diary.engine.spans import Span, common, merged, to_instant, to_minute, to_minute_up
from clinic.diary.engine.working import instant
from clinic.diary.models import Need, Resource, VisitCode, VisitType
from clinic.diary.openings import Free, Search, Wanted

SHOWN = 12
# The least that anybody would book of a treatment: its real length comes from the plan.
LEAST_CYCLES = 1


@dataclass(frozen=True, slots=True)
class Fitting:
    """A kind of visit that fits, and its first start there."""

    visit_type: VisitType
    start_at: datetime


@dataclass(frozen=True, slots=True)
class FreeGap:
    room: Resource
    start_at: datetime
    end_at: datetime
    fitting: Sequence[Fitting]

    @property
    def minutes(self) -> int:
        return (self.end_at - self.start_at) // timedelta(minutes=1)

    @property
    def ways(self) -> list[tuple[VisitType, str]]:
        """Each kind of visit that fits, with what the page of a free time is asked."""
        return [(one.visit_type, self._asked(one)) for one in self.fitting]

    def _asked(self, one: Fitting) -> str:
        start = f"{one.start_at:%Y-%m-%dT%H:%M:%SZ}"
        return urlencode({"to": self.room.pk, "start_at": start, "visit_type": one.visit_type.pk})


def free_gaps(site: Site, *, now: datetime) -> list[FreeGap]:
    """From now to the end of the day, in order of time; none in which nothing fits."""
    window = _rest_of_day(site, now)
    looks = [_look(one, site, now) for one in VisitType.objects.bookable().filter(site=site)]
    found: dict[tuple[int, Span], list[Fitting]] = {}
    rooms: dict[int, Resource] = {}
    for look in looks:
        if Need.ROOM not in look.shape.parts:
            continue
        rooms |= {pk: look.resources[pk] for pk in look.ids[Need.ROOM]}
        for place, fitting in _places(look, window):
            found.setdefault(place, []).append(fitting)
    gaps = [_gap(rooms[pk], span, fitting) for (pk, span), fitting in _widest(found)]
    return sorted(gaps, key=lambda one: (one.start_at, one.room.position, one.room.pk))[:SHOWN]


def _rest_of_day(site: Site, now: datetime) -> Span:
    tomorrow = now.astimezone(site.zone).date() + timedelta(days=1)
    return to_minute_up(now), to_minute(instant(tomorrow, time(0), site.zone))


def _look(visit_type: VisitType, site: Site, now: datetime) -> Search:
    cycles = LEAST_CYCLES if visit_type.code == VisitCode.TREATMENT else 0
    return Search(site=site, wanted=Wanted(visit_type, cycles, now=now), day=now.astimezone(site.zone).date())


def _places(look: Search, window: Span) -> Iterator[tuple[tuple[int, Span], Fitting]]:
    """Stretches in which a room and one of the people are free, where such a visit fits as a whole."""
    free = look.free(window)
    people = merged(span for pk in _people(look) for span in free[pk])
    for room in look.ids[Need.ROOM]:
        for span in common(common(merged(free[room]), people), [window]):
            if span[1] - span[0] < GRID_MINUTES:
                continue
            first = next(look.openings(span, _only(free, look, room, span)), None)
            if first is not None:
                yield (room, span), Fitting(look.visit_type, first.start_at)


def _people(look: Search) -> Iterable[int]:
    """Who leads the visit; of one without a clinician whoever takes part; the room alone where nobody does."""
    ways = ((Need.CLINICIAN, Need.EXAMINER), (Need.ASSISTANT,), (Need.ROOM,))
    needs = next(found for way in ways if (found := [need for need in way if need in look.ids]))
    return dict.fromkeys(pk for need in needs for pk in look.ids[need])


def _only(free: Free, look: Search, room: int, span: Span) -> Free:
    """This room and no other, inside the stretch."""
    others = [pk for pk in look.ids[Need.ROOM] if pk != room]
    return {**free, **{pk: [] for pk in others}, room: common(merged(free[room]), [span])}


def _widest(found: Mapping[tuple[int, Span], list[Fitting]]) -> Iterator[tuple[tuple[int, Span], list[Fitting]]]:
    """Kinds of visit with other people have other stretches: one that lies inside another of its room goes into it."""
    order = sorted(found, key=lambda place: (place[0], place[1][0], -place[1][1]))
    kept: list[tuple[tuple[int, Span], list[Fitting]]] = []
    for room, span in order:
        last = kept[-1] if kept and kept[-1][0][0] == room else None
        if last and last[0][1][0] <= span[0] and span[1] <= last[0][1][1]:
            last[1].extend(found[room, span])
        else:
            kept.append(((room, span), list(found[room, span])))
    yield from kept


def _gap(room: Resource, span: Span, fitting: Sequence[Fitting]) -> FreeGap:
    by_type: dict[int, Fitting] = {}
    for one in sorted(fitting, key=lambda each: each.start_at):
        by_type.setdefault(one.visit_type.pk, one)
    return FreeGap(
        room, to_instant(span[0]), to_instant(span[1]), sorted(by_type.values(), key=lambda one: one.visit_type.name)
    )
