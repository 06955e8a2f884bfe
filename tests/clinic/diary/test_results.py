"""Results: what is counted as booked and as open, who did not come, and what counts as neither."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.models import Booking, Closure, Status, Why
from clinic.diary.usage import Used, Week, usage
from clinic.diary.usage_pictures import HEIGHT, bars
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, resource

# Monday after the week of the visits.
AFTER = at(8, day=date(2026, 3, 9))
MONDAY = date(2026, 3, 2)


def visit(cast: Cast, hour: int, status: Status, number: int, **changes: Any) -> Booking:
    made = book(cast, at(hour), patient=another_patient(cast, number), tell=False)
    Booking.objects.filter(pk=made.pk).update(status=status, **changes)
    return made


@pytest.fixture
def week(diary: Cast) -> Cast:
    """One of each: came, did not come, nobody said, cancelled late and in time, by the practice, held and let go.

    And pencilled: one that stands, one let go by the practice, one called off by the patient, one lapsed.
    """
    who = actor_of(diary.desk)
    visit(diary, 9, Status.FULFILLED, 1)
    visit(diary, 10, Status.NOSHOW, 2)
    visit(diary, 11, Status.BOOKED, 3)
    for number, (by, hours) in enumerate([("patient", 1), ("patient", 60), ("practice", 1)]):
        made = book(diary, at(12), patient=another_patient(diary, 10 + number), tell=False)
        told: datetime = at(12) - timedelta(hours=hours)
        actions.cancel(booking=made, by=by, reason="", why=Why.ILL, actor=who, now=told)
    request = actions.BookingRequest(another_patient(diary, 20), made.visit_type, at(13))
    held = actions.hold(site=diary.fernbrook, request=request, actor=who, now=at(8))
    actions.let_go(booking=held, actor=who, now=at(8, 1))
    book(diary, at(14), patient=another_patient(diary, 21), tell=False, lapses_at=at(23, 59))
    for number, by in enumerate(["practice", "patient"]):
        made = book(diary, at(15), patient=another_patient(diary, 22 + number), tell=False, lapses_at=at(23, 59))
        actions.cancel(booking=made, by=by, reason="", actor=who, now=at(8))
    book(diary, at(15), patient=another_patient(diary, 24), tell=False, lapses_at=at(7))
    actions.lapse_due(now=at(8))
    return diary


def test_what_became_of_the_visits(week: Cast) -> None:
    found = usage(week.fernbrook, now=AFTER).attendance
    assert (found.missed.count, found.missed.of) == (1, 2)
    # Of all that were promised and that the practice did not call off.
    assert (found.cancelled_late.count, found.cancelled_late.of) == (1, 5)
    assert (found.cancelled_by_patient, found.cancelled_by_practice, found.not_said) == (2, 1, 1)


def test_booked_against_open(week: Cast) -> None:
    Closure.objects.create(
        site=week.fernbrook, resource=resource("Willow"), kind="out_of_use", starts_at=at(15), ends_at=at(20)
    )
    used = {one.resource.name: one for one in usage(week.fernbrook, now=AFTER, weeks=2).used}
    # Three visits of 35 minutes; five days of eight hours, two of them out of use. Neither held nor pencilled ones.
    assert used["Willow"].weeks == [Week(date(2026, 2, 23), 0, 2400), Week(MONDAY, 105, 2280)]
    assert used["Cleo Haddad"].weeks[1] == Week(MONDAY, 90, 2400)
    assert used["Lamp 1"].total == Week(date(2026, 2, 23), 0, 4800)
    assert (used["Willow"].weeks[1].percent, Week(MONDAY, 1, 0).percent) == (5, None)
    drawn = bars(used["Willow"])
    assert [(bar.x, bar.y, bar.height) for bar in drawn.bars] == [(0, HEIGHT, 0), (18, HEIGHT - 2, 2)]
    # Beyond the open hours the bar is full, and no more; of a closed week nothing is said.
    beyond = Used(used["Willow"].resource, [Week(MONDAY, 90, 60), Week(MONDAY, 90, 0)])
    assert [(bar.week.percent, bar.height) for bar in bars(beyond).bars] == [(150, HEIGHT), (None, 0)]


def test_the_week_that_is_going_on_is_not_counted(week: Cast) -> None:
    found = usage(week.fernbrook, now=AFTER - timedelta(days=1), weeks=1)
    assert (found.mondays, found.last_on) == ([date(2026, 2, 23)], date(2026, 3, 1))
    assert found.attendance.missed.of == 0


def test_the_page_and_its_queries(week: Cast) -> None:
    with time_machine.travel(AFTER, tick=False):
        manager, counts = sign_in(week.manager), []
        for number in range(2):
            with CaptureQueriesContext(connection) as queries:
                page = manager.get(reverse("results")).content.decode()
            counts.append(len(queries))
            for hour in range(9, 15):
                day = date(2026, 3, 3 + number)
                start = at(hour, day=day) + timedelta(minutes=30)
                made = book(week, start, patient=another_patient(week, 30 + 10 * number + hour), tell=False, now=NOW)
                assert made.pk
    assert counts[0] == counts[1] <= 40
    assert "Results of the last 8 whole weeks" in page
    # Eight weeks of five days of eight hours: a manager reads hours, and no days of twenty-four.
    assert 'data-label="Open">320 h<' in page
    assert "Willow" in page
    assert "50 %" in page
    assert f'href="{reverse("results")}"' in page
    assert "style=" not in page
    assert "Cleo Haddad" in page.split("<main")[1]


def test_a_clinician_sees_how_busy_they_were_and_nobody_else(diary: Cast) -> None:
    page = sign_in(diary.clinician).get(reverse("results")).content.decode().split("<main")[1]
    assert "Willow" in page
    assert "Cleo Haddad" in page
    assert "Bo Lindqvist" not in page


def test_wrong_role(diary: Cast) -> None:
    desk = sign_in(diary.desk)
    assert desk.get(reverse("results")).status_code == 403
    assert f'href="{reverse("results")}"' not in desk.get(reverse("diary")).content.decode()
