"""Which visits stand in a feed, and at which instants: around the window, and around both clock-change nights."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from clinic.accounts.models import Site
from clinic.diary.engine.working import instant
from clinic.diary.models import Status
from tests.cast import Cast
from tests.clinic.diary.fetching import fetch, make, place, read
from tests.clinic.diary.house import at, resource
from tests.clinic.diary.ics import NIGHTS, by_its_own_rules, events, start_of


def test_two_weeks_back_and_ninety_days_ahead(diary: Cast) -> None:
    first_at, end_at = datetime(2026, 2, 17, tzinfo=UTC), datetime(2026, 6, 1, 23, tzinfo=UTC)
    quarter = timedelta(minutes=15)
    given_up: dict[str, Any] = {"status": Status.CANCELLED, "cancelled_by": "patient"}
    inside = [
        place(diary, first_at),
        place(diary, end_at - quarter),
        place(diary, first_at + timedelta(days=1), status=Status.NOSHOW),
        place(diary, at(9), **given_up, cancelled_at=first_at),
    ]
    place(diary, first_at - quarter)
    place(diary, end_at)
    # Given up long ago: whoever fetches has seen it go.
    place(diary, at(10), **given_up, cancelled_at=first_at - quarter)
    _feed, token = make(diary)
    found = {str(event["UID"]).rpartition("-")[0]: str(event["STATUS"]) for event in read(token)}
    assert list(found) == [str(one.uid) for one in sorted(inside, key=lambda one: one.starts_at)]
    assert list(found.values()) == ["CONFIRMED", "CONFIRMED", "CANCELLED", "CONFIRMED"]


@pytest.mark.parametrize(("zone", "night"), NIGHTS)
def test_both_nights_and_the_week_around_them(diary: Cast, zone: str, night: date) -> None:
    """What stands in the database and what two ways of reading make of the file are the same instants."""
    Site.objects.filter(pk=diary.fernbrook.pk).update(timezone=zone)
    diary.fernbrook.refresh_from_db()
    known = ZoneInfo(zone)
    midnight = instant(night, time(0), known)
    # Counted in instants, so that the hour that comes twice holds twice as many.
    through_the_night = [midnight + timedelta(minutes=15 * quarter) for quarter in range(20)]
    nine = [instant(night + timedelta(days=days), time(9), known) for days in range(-3, 4)]
    kept = {f"{one.uid}-{resource('Willow').pk}": one for one in (place(diary, at) for at in through_the_night + nine)}
    _feed, token = make(diary)
    answer = fetch(token, now=midnight - timedelta(days=3))
    found = {str(event["UID"]): event for event in events(answer.content)}
    # By the zone's name, as zoneinfo knows it.
    assert {uid: start_of(event).astimezone(UTC) for uid, event in found.items()} == {
        uid: booking.starts_at for uid, booking in kept.items()
    }
    # By the rules in the file alone.
    assert by_its_own_rules(answer.content, "DTSTART") == {uid: one.starts_at for uid, one in kept.items()}
    assert by_its_own_rules(answer.content, "DTEND") == {uid: one.ends_at for uid, one in kept.items()}
    mornings = [start_of(found[uid]) for uid, one in kept.items() if one.starts_at in nine]
    assert [start.time() for start in mornings] == [time(9)] * 7
    assert len({start.utcoffset() for start in mornings}) == 2
