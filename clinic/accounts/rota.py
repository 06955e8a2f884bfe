"""Who is on call: whoever has the turn, else the one person the site's page names."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from clinic.accounts.models import OnCallTurn, Site, User
from clinic.accounts.rights import Capability, may, who_may

# So far ahead a gap is named; common practice, no source.
LOOKED_AHEAD = timedelta(days=14)
# What lies further away is a mistyped year; common practice, no source.
LONGEST_AGO, FURTHEST_AHEAD = timedelta(days=31), timedelta(days=2 * 365)
Span = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class OnCall:
    """until_at: the end of a turn; None for the one who stands in whenever nobody has one."""

    person: User
    until_at: datetime | None


def on_call(site: Site, *, at: datetime) -> OnCall | None:
    """Never somebody who has left, or who may not read what they would have to answer."""
    turns = OnCallTurn.objects.filter(site=site).touching(at, at + timedelta(microseconds=1))
    turn = turns.select_related("person").first()
    if turn is not None and may_answer(turn.person, site):
        return OnCall(turn.person, turn.until_at)
    fallback = site.on_call
    return OnCall(fallback, None) if fallback is not None and may_answer(fallback, site) else None


def may_answer(person: User, site: Site) -> bool:
    return may(person, Capability.REPLIES_READ, site)


def on_call_at(site: Site, at: datetime) -> User | None:
    found = on_call(site, at=at)
    return found.person if found is not None else None


def coming_turns(site: Site, *, now: datetime) -> Sequence[OnCallTurn]:
    """The one that runs and those to come."""
    return list(OnCallTurn.objects.filter(site=site, until_at__gt=now).select_related("person"))


def gaps(site: Site, *, now: datetime) -> list[Span]:
    """When nobody is on call in the next two weeks; none where somebody stands in at any time."""
    if site.on_call is not None and may_answer(site.on_call, site):
        return []
    able = set(who_may(Capability.REPLIES_READ, site))
    turns = [(one.from_at, one.until_at) for one in coming_turns(site, now=now) if one.person in able]
    return list(uncovered(turns, from_at=now, until_at=now + LOOKED_AHEAD))


def uncovered(spans: Iterable[Span], *, from_at: datetime, until_at: datetime) -> Iterator[Span]:
    """What the spans leave open. Pure."""
    covered_until = from_at
    for start, end in sorted(spans):
        if start >= until_at:
            break
        if start > covered_until:
            yield covered_until, start
        covered_until = max(covered_until, end)
    if covered_until < until_at:
        yield covered_until, until_at
