"""Free times as a patient's small screen shows them: a few days, a few times of each, the others one press further."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from clinic.accounts.models import Site
from clinic.diary.engine.wishes import Wishes
from clinic.diary.engine.working import instant
from clinic.diary.openings import Opening, Wanted, find_days

DAYS_SHOWN, TIMES_A_DAY = 4, 3


@dataclass(frozen=True, slots=True)
class Day:
    """few: the first, the middle and the last of the day; others: the rest of it."""

    on: date
    few: Sequence[Opening]
    others: Sequence[Opening]


@dataclass(frozen=True, slots=True)
class Offering:
    """minutes: how long such a visit takes. later_from: the day after the last one shown, where more may follow."""

    days: Sequence[Day]
    minutes: int
    later_from: date | None


def offering(
    *,
    site: Site,
    wanted: Wanted | None,
    between: tuple[datetime, datetime],
    wishes: Wishes,
    from_on: date | None = None,
    but: datetime | None = None,
) -> Offering:
    """but: a start that is not offered, as it is the one to get away from."""
    earliest_at, latest_at = between
    if from_on is not None:
        earliest_at = max(earliest_at, instant(from_on, time(0), site.zone))
    if wanted is None or earliest_at >= latest_at:
        return Offering((), 0, None)
    wanted = replace(wanted, wishes=wishes)
    found = find_days(site=site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at, days=DAYS_SHOWN).found
    by_day: dict[date, list[Opening]] = {}
    for opening in (one for one in found if one.start_at != but):
        by_day.setdefault(opening.day, []).append(opening)
    days = [_day(on, openings) for on, openings in by_day.items()]
    minutes = (found[0].end_at - found[0].start_at) // timedelta(minutes=1) if found else 0
    seen = [one.day for one in found]
    later_from = seen[-1] + timedelta(days=1) if len(set(seen)) == DAYS_SHOWN else None
    return Offering(days, minutes, later_from)


def _day(on: date, openings: Sequence[Opening]) -> Day:
    few = spread(openings)
    return Day(on, few, [one for one in openings if one not in few])


def spread(openings: Sequence[Opening]) -> Sequence[Opening]:
    if len(openings) <= TIMES_A_DAY:
        return openings
    last = len(openings) - 1
    return [openings[last * number // (TIMES_A_DAY - 1)] for number in range(TIMES_A_DAY)]
