"""Running late, and what is free today: said of a real day's visits."""

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.gaps import free_gaps
from clinic.diary.models import Booking, Closure, VisitCode, WorkingPattern
from clinic.diary.reading import bookings_on
from clinic.diary.running import runs_late
from tests.cast import Cast, actor_of, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, resource


def late(cast: Cast, now: datetime) -> list[tuple[list[str], int, bool, list[datetime], bool]]:
    found = runs_late(bookings_on(cast.fernbrook, DAY, now=now), now=now)
    return [
        (list(one.names), one.minutes, one.waits, [each.about for each in one.later], one.has_next) for one in found
    ]


def seat(cast: Cast, booking: Booking, now: datetime) -> Booking:
    return actions.check_in(booking=booking, actor=actor_of(cast.desk), now=now)


@pytest.fixture
def morning(diary: Cast) -> list[Booking]:
    """Two problem visits of 25 minutes that all but meet in one room, and one later, of the same dentist."""
    starts = ((9, 0), (9, 30), (11, 0))
    return [
        book(diary, at(*start), code=VisitCode.PROBLEM, patient=another_patient(diary, number), tell=False)
        for number, start in enumerate(starts)
    ]


def test_on_time_nothing_is_said(diary: Cast, morning: list[Booking]) -> None:
    assert late(diary, at(8)) == []
    seat(diary, morning[0], at(9, 5))
    assert late(diary, at(9, 10)) == []


def test_who_begins_late_or_stays_long_pushes_the_next(diary: Cast, morning: list[Booking]) -> None:
    both = ["Willow", "Cleo Haddad"]
    seat(diary, morning[0], at(9, 20))
    # Five minutes of the delay are lost between the two visits; the third has time enough.
    assert late(diary, at(9, 22)) == [(both, 20, False, [at(9, 45)], True)]
    # Still in the chair long after the end.
    assert late(diary, at(9, 50)) == [(both, 30, False, [at(9, 55)], True)]
    actions.finish(booking=Booking.objects.get(pk=morning[0].pk), actor=actor_of(diary.desk), now=at(9, 50))
    # The next one should sit there and is not here: the room and the dentist wait for somebody.
    assert late(diary, at(9, 50)) == [(both, 20, True, [], True)]
    actions.arrive(booking=morning[1], actor=actor_of(diary.desk), now=at(9, 51))
    assert late(diary, at(9, 51)) == [(both, 20, False, [], True)]
    actions.no_show(booking=morning[2], actor=actor_of(diary.desk), now=at(11, 30))
    assert late(diary, at(9, 51)) == [(both, 20, False, [], False)]


def test_one_query_however_many(diary: Cast, morning: list[Booking]) -> None:
    bookings = bookings_on(diary.fernbrook, DAY, now=at(12))
    with CaptureQueriesContext(connection) as queries:
        assert runs_late(bookings, now=at(12))
    assert len(queries) == 1
    assert morning


def gaps(cast: Cast, now: datetime) -> list[tuple[str, datetime, datetime, list[str]]]:
    return [
        (one.room.name, one.start_at, one.end_at, [str(each.visit_type.code) for each in one.fitting])
        for one in free_gaps(cast.fernbrook, now=now)
    ]


def test_what_is_free_today(diary: Cast) -> None:
    Closure.objects.create(
        site=diary.fernbrook, resource=resource("Alder"), kind="out_of_use", starts_at=at(0), ends_at=at(23)
    )
    book(diary, at(13), tell=False)
    book(diary, at(14, 15), patient=another_patient(diary, 1), tell=False)
    # 12:20 to 13:00, from 13:35 to 14:15, from 14:50 to the end of the day.
    short = ["impressions", "review", "problem", "fitting"]
    assert gaps(diary, at(12, 20)) == [
        ("Willow", at(12, 20), at(13), short),
        ("Willow", at(13, 35), at(14, 15), short),
        ("Willow", at(14, 50), at(17), ["consultation", *short[:3], "hygiene", *short[3:], "treatment"]),
    ]
    assert gaps(diary, at(17)) == []
    assert gaps(diary, at(9) + timedelta(days=3)) == []


def test_nobody_to_work_in_it_is_no_gap(diary: Cast) -> None:
    WorkingPattern.objects.filter(resource__kind="person").delete()
    assert gaps(diary, at(9)) == []


def test_a_press_leads_to_that_time(diary: Cast) -> None:
    first = free_gaps(diary.fernbrook, now=at(9))[0]
    kind, asked = next(one for one in first.ways if one[0].code == VisitCode.CONSULTATION)
    assert asked == f"to={first.room.pk}&start_at=2026-03-04T09%3A00%3A00Z&visit_type={kind.pk}"
    desk = sign_in(diary.desk)
    assert diary.patient.pk
    page = desk.get(f"{reverse('book_at')}?{asked}&q=Amara").content.decode()
    wanted = f"from_on={DAY.isoformat()}&amp;not_before=09%3A00&amp;room={first.room.pk}&amp;visit_type={kind.pk}"
    assert f'{reverse("find_time", args=[diary.patient.pk])}?{wanted}"' in page


def test_the_search_does_not_grow_with_the_day(diary: Cast) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            free_gaps(diary.fernbrook, now=at(9))
        return len(queries)

    before = asked()
    for number in range(4):
        book(diary, at(9 + number), patient=another_patient(diary, number), tell=False)
    assert asked() == before
