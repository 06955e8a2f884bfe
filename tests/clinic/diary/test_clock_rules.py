"""A country changes its clock rules: the visits it moves are listed, and keep the time on the clock."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions, clock_rules
from clinic.diary.models import Booking, ResourceClaim
from clinic.diary.refusals import ClocksMeet
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, pencil
from tests.clinic.diary.ics import start_of
from tests.clinic.diary.test_messages import event_of, sent, text

HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def rules_just_changed() -> Iterator[None]:
    clock_rules.look_again()
    yield
    clock_rules.look_again()


def booked_under_older_rules(cast: Cast, hour: int, number: int) -> Booking:
    """As if the clock had been an hour ahead of today's rules when it was booked: its moment lay an hour earlier."""
    return older(book(cast, at(hour), patient=another_patient(cast, number)))


def older(booking: Booking) -> Booking:
    booking.starts_at -= HOUR
    booking.ends_at -= HOUR
    booking.save()
    for claim in booking.claims.order_by("start_at"):
        ResourceClaim.objects.filter(pk=claim.pk).update(start_at=claim.start_at - HOUR, end_at=claim.end_at - HOUR)
    return booking


def test_all_of_them_keep_their_time_at_once(diary: Cast) -> None:
    # One after the other, so that each takes the moment that the next has left.
    moved = [booked_under_older_rules(diary, hour, hour) for hour in (10, 11, 12)]
    stays = book(diary, at(14))
    listed = clock_rules.shifted_visits(diary.fernbrook, now=NOW)
    assert [(one.booking.pk, one.starts_at) for one in listed] == [
        (booking.pk, at(hour)) for booking, hour in zip(moved, (10, 11, 12), strict=True)
    ]
    kept = actions.keep_clock_times(site=diary.fernbrook, actor=actor_of(diary.desk), now=NOW)
    assert kept == 3
    for booking, hour in zip(moved, (10, 11, 12), strict=True):
        fresh = Booking.objects.get(pk=booking.pk)
        assert (fresh.starts_at, fresh.wall_time) == (at(hour), time(hour))
        assert (fresh.sequence, fresh.version) == (booking.sequence + 1, booking.version + 1)
        assert min(claim.start_at for claim in fresh.claims.filter(active=True)) == at(hour)
    assert Booking.objects.get(pk=stays.pk).version == stays.version
    assert TrailEntry.objects.filter(verb="diary.clock_followed").count() == 3
    assert clock_rules.shifted_visits(diary.fernbrook, now=NOW) == []


def test_one_that_would_meet_a_visit_that_stays_changes_nothing(diary: Cast) -> None:
    booked_under_older_rules(diary, 10, 1)
    taken = Booking.objects.get(wall_time=time(10))
    # Booked since, under the new rules, with the same room and people.
    other = book(diary, at(15), patient=another_patient(diary, 2))
    for claim, same in zip(other.claims.order_by("pk"), taken.claims.order_by("pk"), strict=True):
        times = {"start_at": same.start_at + HOUR, "end_at": same.end_at + HOUR, "resource": same.resource}
        ResourceClaim.objects.filter(pk=claim.pk).update(**times)
    before = list(Booking.objects.order_by("pk").values()), list(ResourceClaim.objects.order_by("pk").values())
    entries = TrailEntry.objects.count()
    with pytest.raises(ClocksMeet):
        actions.keep_clock_times(site=diary.fernbrook, actor=actor_of(diary.desk), now=NOW)
    after = list(Booking.objects.order_by("pk").values()), list(ResourceClaim.objects.order_by("pk").values())
    assert (after, TrailEntry.objects.count()) == (before, entries)


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite has one writer and no locks of rows")
def test_a_visit_is_locked_before_what_it_claims(diary: Cast) -> None:
    """As by whoever moves one: two that lock in another order wait for each other."""
    booked_under_older_rules(diary, 10, 1)
    with CaptureQueriesContext(connection) as queries:
        actions.keep_clock_times(site=diary.fernbrook, actor=actor_of(diary.desk), now=NOW)
    locks = [one["sql"] for one in queries if "FOR NO KEY UPDATE" in one["sql"]]
    assert [sql.split('FROM "clinic_diary_')[1].split('"')[0] for sql in locks][:2] == ["booking", "resource"]


def test_what_was_moved_meanwhile_is_left_alone(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between looking and locking."""
    followed, moved = (booked_under_older_rules(diary, hour, hour) for hour in (10, 12))
    looked = clock_rules.shifted_visits(diary.fernbrook, now=NOW)
    Booking.objects.filter(pk=moved.pk).update(starts_at=at(12), ends_at=moved.ends_at + HOUR)
    later = [clock_rules.shifted_visits(diary.fernbrook, now=NOW), looked]
    monkeypatch.setattr(clock_rules, "shifted_visits", lambda *_, **__: later.pop())
    assert actions.keep_clock_times(site=diary.fernbrook, actor=actor_of(diary.desk), now=NOW) == 1
    assert Booking.objects.get(pk=followed.pk).version == followed.version + 1
    assert Booking.objects.get(pk=moved.pk).version == moved.version


def test_what_waits_to_be_said_is_said_with_the_time_that_was_kept(diary: Cast) -> None:
    booked_under_older_rules(diary, 10, 1)
    pencilled = [pencil(diary, at(hour, day=date(2026, 3, day))) for hour, day in ((9, 11), (10, 18))]
    for booking in pencilled:
        older(booking)
    assert actions.keep_clock_times(site=diary.fernbrook, actor=actor_of(diary.desk), now=NOW) == 3
    confirmed, both = sent()
    assert "is on Wed 4 Mar 2026, 10:00" in text(confirmed)
    assert start_of(event_of(confirmed)[1]) == at(10)
    assert "Wed 11 Mar 2026, 09:00" in text(both)
    assert "Wed 18 Mar 2026, 10:00" in text(both)


@time_machine.travel(NOW, tick=False)
def test_today_leads_to_the_list_and_one_press_settles_it(diary: Cast) -> None:
    booking = booked_under_older_rules(diary, 10, 1)
    desk, manager = sign_in(diary.desk), sign_in(diary.manager)
    assert reverse("clock_rules") in desk.get(reverse("today")).content.decode()
    assert reverse("clock_rules") not in manager.get(reverse("today")).content.decode()
    page = desk.get(reverse("clock_rules")).content.decode()
    assert booking.patient.name in page
    assert desk.post(reverse("clock_rules")).status_code == 302
    assert Booking.objects.get(pk=booking.pk).starts_at == at(10)
    assert reverse("clock_rules") not in desk.get(reverse("today")).content.decode()


def test_in_order_it_is_looked_at_once_a_day(diary: Cast) -> None:
    book(diary, at(10))
    assert clock_rules.shifted_visits(diary.fernbrook, now=NOW) == []
    with CaptureQueriesContext(connection) as queries:
        assert clock_rules.shifted_visits(diary.fernbrook, now=NOW) == []
    assert len(queries) == 0
    # What an older process books meanwhile is found on the next day.
    booked_under_older_rules(diary, 12, 1)
    assert len(clock_rules.shifted_visits(diary.fernbrook, now=NOW + timedelta(days=1))) == 1


def test_an_hour_that_the_clock_shows_twice_has_two_moments() -> None:
    # Summer time ends in Berlin on 25 October 2026: Directive 2000/84/EC, article 3.
    night, zone = date(2026, 10, 25), ZoneInfo("Europe/Berlin")
    assert clock_rules.moments_of(night, time(2, 30), zone) == (
        datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
    )
    first, second = clock_rules.moments_of(night, time(9), zone)
    assert first == second
