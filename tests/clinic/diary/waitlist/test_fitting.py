"""Whether a free time suits an entry of the list. No database: rows that were never saved."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest

from clinic.accounts.models import Site
from clinic.diary.models import FreedTime, WaitingWish
from clinic.diary.openings import Opening
from clinic.diary.waitlist.freed import gaps
from clinic.diary.waitlist.matching import Waiter, fits
from clinic.diary.waitlist.wording import times_words

NOW = datetime(2026, 3, 3, 9, tzinfo=UTC)
LONDON = Site(name="Fernbrook", timezone="Europe/London")
HOUR = timedelta(hours=1)


def at(hour: int, minute: int = 0, day: int = 4) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


# A Wednesday from ten to 10:35.
TEN = Opening(at(10), at(10, 35), {}, {}, date(2026, 3, 4))

SUITS: list[tuple[str, dict[str, Any], bool]] = [
    ("any time", {}, True),
    ("that weekday", {"weekdays": "2"}, True),
    ("other weekdays", {"weekdays": "13"}, False),
    ("from its beginning on", {"not_before": time(10)}, True),
    ("later only", {"not_before": time(10, 1)}, False),
    ("over by its end", {"over_by": time(10, 35)}, True),
    ("over before", {"over_by": time(10, 34)}, False),
    ("its day is the last", {"until_on": date(2026, 3, 4)}, True),
    ("the day before is the last", {"until_on": date(2026, 3, 3)}, False),
]


@pytest.mark.parametrize(("_shows", "wished", "suited"), SUITS, ids=[row[0] for row in SUITS])
def test_what_was_wished_for(_shows: str, wished: dict[str, Any], suited: bool) -> None:
    wish = WaitingWish(site=LONDON, **wished)
    assert fits(Waiter(wish, NOW, date.min, None), TEN) is suited


AGAINST: list[tuple[str, dict[str, Any], bool]] = [
    ("notice is kept to the minute", {"not_before_at": at(10)}, True),
    ("too soon", {"not_before_at": at(10, 1)}, False),
    ("a day that is waited for", {"not_before_on": date(2026, 3, 5)}, False),
    ("over as the later visit begins", {"before_at": at(10, 35)}, True),
    ("not over then", {"before_at": at(10, 34)}, False),
    ("another visit straight after", {"not_at": [(at(10, 35), at(11))]}, True),
    ("another visit meanwhile", {"not_at": [(at(10, 34), at(11))]}, False),
    ("a visit around it", {"not_at": [(at(9), at(12))]}, False),
]


@pytest.mark.parametrize(("_shows", "known", "suited"), AGAINST, ids=[row[0] for row in AGAINST])
def test_what_stands_against_it(_shows: str, known: dict[str, Any], suited: bool) -> None:
    given: dict[str, Any] = {"not_before_at": NOW, "not_before_on": date.min, "before_at": None} | known
    waiter = Waiter(WaitingWish(site=LONDON), **given)
    assert fits(waiter, TEN) is suited


def test_the_weekday_is_the_sites_own() -> None:
    """Wednesday evening in London is Thursday morning in Auckland."""
    auckland = Site(name="South", timezone="Pacific/Auckland")
    thursday = Opening(at(20), at(20, 35), {}, {}, date(2026, 3, 5))
    suited = Waiter(WaitingWish(site=auckland, weekdays="3", not_before=time(9)), NOW, date.min, None)
    assert fits(suited, thursday)


@pytest.mark.parametrize(
    ("stretches", "found"),
    [
        ([], []),
        ([(at(10), at(11))], [(at(10), at(11))]),
        # What is over is nobody's, and what overlaps is one.
        ([(at(8, day=3), at(10, day=3)), (at(9, 30, day=3), at(11, day=3))], [(NOW, at(11, day=3))]),
        # A stretch ends with its day.
        ([(at(22), at(2, day=5))], [(at(22), at(0, day=5)), (at(0, day=5), at(2, day=5))]),
        ([(at(22), at(0, day=5))], [(at(22), at(0, day=5))]),
    ],
)
def test_what_became_free(stretches: list[tuple[datetime, datetime]], found: list[tuple[datetime, datetime]]) -> None:
    rows = [FreedTime(site=LONDON, starts_at=start, ends_at=end) for start, end in stretches]
    epoch, minute = datetime(1970, 1, 1, tzinfo=UTC), timedelta(minutes=1)
    assert [(epoch + start * minute, epoch + end * minute) for start, end in gaps(rows, site=LONDON, now=NOW)] == found


@pytest.mark.parametrize(
    ("wished", "words"),
    [
        ({}, "any time"),
        ({"weekdays": "13"}, "Tuesday, Thursday"),
        ({"weekdays": "1", "over_by": time(12)}, "Tuesday, over by 12:00"),
        ({"not_before": time(14)}, "from 14:00 on"),
        ({"not_before": time(9), "over_by": time(12)}, "between 09:00 and 12:00"),
    ],
)
def test_it_is_said_in_words(wished: dict[str, Any], words: str) -> None:
    assert times_words(WaitingWish(site=LONDON, **wished)) == words
