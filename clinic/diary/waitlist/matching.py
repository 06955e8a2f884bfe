"""Whom a time that became free is offered to: the engine's openings, the wishes they suit, and the assignment."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from clinic.accounts.models import Site, User
from clinic.diary import earliest, waiting
from clinic.diary.engine.spans import Span, merged, to_minute, to_minute_up
from clinic.diary.models import COMING, MOVABLE, Answer, Booking, Need, Status, WaitingWish
from clinic.diary.openings import WINDOW_MINUTES, Opening, Search, Wanted
from clinic.diary.waitlist.clearing import Ask, Clear, clear_by
from clinic.diary.waitlist.needing import Needed, needs_of
from clinic.diary.waitlist.rules import Person, assign, earliest_start, nearest

REFUSED = ("no", "lapsed", "withdrawn")
Times = Sequence[tuple[datetime, datetime]]


@dataclass(frozen=True, slots=True)
class Match:
    """One time for one person."""

    wish: WaitingWish
    opening: Opening
    clear: Clear


@dataclass(slots=True)
class Waiter:
    """A wish with what has to be known to see whether a time fits: when it may be, and when it may not."""

    wish: WaitingWish
    not_before_at: datetime
    not_before_on: date
    before_at: datetime | None
    not_at: list[tuple[datetime, datetime]] = field(default_factory=list)


def matches(*, site: Site, gaps: Sequence[Span], now: datetime) -> list[Match]:
    """The best way to offer these stretches around: at most one person for each, at most one for a person."""
    waiters = waiting_here(site, now=now)
    if not waiters or not gaps:
        return []
    found: dict[tuple[int, int], Opening] = {}
    needs = needs_of([one.wish for one in waiters.values()])
    for needed, group in _groups(waiters, needs):
        found |= _openings(site, group, needed, gaps, now)
    asks = {pair: _ask(waiters[pair[0]].wish, opening) for pair, opening in found.items()}
    clear = clear_by(list(dict.fromkeys(asks.values())), now=now)
    people = [Person(one.wish.since_on, pk) for pk, one in waiters.items()]
    fits = {pair: clear[ask].is_clear for pair, ask in asks.items() if clear[ask].may_be}
    today = now.astimezone(site.zone).date()
    return [
        Match(waiters[wish].wish, found[wish, gap], clear[asks[wish, gap]])
        for wish, gap in assign(people, len(gaps), fits, today=today)
    ]


def waiting_here(site: Site, *, now: datetime) -> dict[int, Waiter]:
    """By wish, whoever waits longest first; one wish of each person, and nobody who has an offer to answer."""
    asked = WaitingWish.objects.filter(site=site, offers__answer="").values("patient")
    rows = WaitingWish.objects.waiting().filter(site=site, patient__died_on=None, patient__merged_into=None)
    free = rows.filter(visit_type__active=True).exclude(patient__in=asked).prefetch_related("offers")
    wishes = list(
        free.select_related("site", "patient", "visit_type", "person", "booking__site", "booking__visit_type")
    )
    taken = _taken(wishes, now)
    return {wish.pk: waiter for wish in wishes if (waiter := _waiter(wish, taken, now)) is not None}


def fits(waiter: Waiter, opening: Opening) -> bool:
    """Everything that was wished for, and everything that stands against it."""
    wish, start_at, end_at = waiter.wish, opening.start_at, opening.end_at
    if start_at < waiter.not_before_at or opening.day < waiter.not_before_on:
        return False
    if wish.until_on is not None and opening.day > wish.until_on:
        return False
    if waiter.before_at is not None and end_at > waiter.before_at:
        return False
    if any(start_at < until_at and end_at > from_at for from_at, until_at in waiter.not_at):
        return False
    minutes = (end_at - start_at) // timedelta(minutes=1)
    suited = wish.times.starts(minutes=minutes, first_on=opening.day, days=1, zone=wish.site.zone)
    return any(first <= to_minute(start_at) < last for first, last in suited)


def _waiter(wish: WaitingWish, taken: Mapping[int, Times], now: datetime) -> Waiter | None:
    booking = wish.booking
    if (booking is not None and booking.status not in MOVABLE) or _stayed_silent(wish, now):
        return None
    limits = [earliest_start(now=now, notice=timedelta(hours=wish.notice_hours))]
    first_on = None
    if booking is not None:
        limits += [at for at in (earliest.earliest_at(booking),) if at is not None]
        # A pencilled time is moved with the date on which it lapses: it must not begin before that.
        limits += [booking.lapses_at] if booking.status == Status.PROPOSED and booking.lapses_at else []
        first_on = waiting.not_before_on(booking, now=now)
    refused = [(one.starts_at, one.ends_at) for one in wish.offers.all() if one.answer in REFUSED]
    return Waiter(
        wish,
        max(limits),
        first_on or date.min,
        booking.starts_at if booking is not None else None,
        [*taken.get(wish.patient_id, ()), *refused],
    )


def _stayed_silent(wish: WaitingWish, now: datetime) -> bool:
    """Somebody did not answer today: a message every half hour is no help to them, and others wait too."""
    zone = wish.site.zone
    silent = (one.offered_at for one in wish.offers.all() if one.answer == Answer.LAPSED)
    return any(at.astimezone(zone).date() == now.astimezone(zone).date() for at in silent)


def _taken(wishes: Sequence[WaitingWish], now: datetime) -> dict[int, list[tuple[datetime, datetime]]]:
    """When each of these people has a visit already."""
    rows = Booking.objects.filter(patient__in={wish.patient_id for wish in wishes}, status__in=COMING)
    found: dict[int, list[tuple[datetime, datetime]]] = {}
    coming = rows.filter(ends_at__gt=now).without_ended_holds(now=now)
    for patient_id, starts_at, ends_at in coming.values_list("patient_id", "starts_at", "ends_at"):
        found.setdefault(patient_id, []).append((starts_at, ends_at))
    return found


def _groups(waiters: Mapping[int, Waiter], needs: Mapping[int, Needed]) -> Iterable[tuple[Needed, list[Waiter]]]:
    """Those who wait for the same visit with the same person: one search answers all of them."""
    groups: dict[tuple[int, Needed, int | None], list[Waiter]] = {}
    for pk, one in waiters.items():
        groups.setdefault((one.wish.visit_type_id, needs[pk], one.wish.person_id), []).append(one)
    return [(needed, group) for (_kind, needed, _person), group in groups.items()]


def wanted(wish: WaitingWish, needed: Needed, *, now: datetime) -> Wanted:
    return Wanted(
        wish.visit_type,
        needed.cycles,
        needed.light_kind,
        wish.person_id,
        now=now,
        cycle_minutes=needed.cycle_minutes,
    )


def _openings(
    site: Site, group: Sequence[Waiter], needed: Needed, gaps: Sequence[Span], now: datetime
) -> dict[tuple[int, int], Opening]:
    """For each wish of the group and each gap that has a time for it, the one nearest to the gap's beginning."""
    search = Search(site=site, wanted=wanted(group[0].wish, needed, now=now), day=now.astimezone(site.zone).date())
    length, least = search.shape.minutes, to_minute_up(now)
    # A visit that is longer than the gap may begin before it, where the time before was free already.
    windows = _weeks(merged((max(start - length + 1, least), end) for start, end in gaps))
    some = [one for window in windows for one in search.openings(window, search.free(window))]
    found: dict[tuple[int, int], Opening] = {}
    for number, gap in enumerate(gaps):
        inside = {to_minute(one.start_at): one for one in some if _meets(one, gap)}
        for waiter in group:
            start = nearest([start for start, one in inside.items() if fits(waiter, one)], gap)
            if start is not None:
                found[waiter.wish.pk, number] = inside[start]
    return found


def _meets(opening: Opening, gap: Span) -> bool:
    return to_minute(opening.start_at) < gap[1] and to_minute(opening.end_at) > gap[0]


def _weeks(windows: Iterable[Span]) -> Iterable[Span]:
    """No window is longer than a search reads at once."""
    for start, end in windows:
        for first in range(start, end, WINDOW_MINUTES):
            yield first, min(first + WINDOW_MINUTES, end)


def _ask(wish: WaitingWish, opening: Opening) -> Ask:
    return Ask(wish, opening.day, clinician_of(opening))


def clinician_of(opening: Opening) -> User | None:
    chosen = (opening.chosen.get(need) for need in (Need.CLINICIAN, Need.EXAMINER))
    return next((one.person for one in chosen if one is not None), None)
