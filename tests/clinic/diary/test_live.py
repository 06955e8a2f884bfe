"""An open page follows the other desks: 304 while nothing changed, and never a reason to stay signed in."""

from datetime import timedelta
from typing import Any

import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions
from clinic.patients.actions import note_death
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, elsewhere_booking
from tests.support import nothing_written

ADDRESS = f"/diary/{DAY.isoformat()}/"


def ask(client: Client, tag: str, look: str = "") -> Answer:
    return client.get(ADDRESS + look, headers={"x-background": "1", "if-none-match": f'"{tag}"'})


@time_machine.travel(NOW, tick=False)
def test_nothing_changed(diary: Cast) -> None:
    book(diary, at(9))
    client = sign_in(diary.desk)
    looks = ("", "?by=person", "week/", "week/?by=person")
    tags = {look: client.get(ADDRESS + look).context["tag"] for look in looks}
    elsewhere_booking(diary)
    book(diary, at(9, day=DAY + timedelta(days=7)), patient=another_patient(diary))
    for look, tag in tags.items():
        with nothing_written(), CaptureQueriesContext(connection) as asked:
            assert ask(client, tag, look).status_code == 304
        # Who asks, what they may, their sites, whose week, and the one question.
        assert len(asked) <= 8
        assert sum('FROM "clinic_diary_booking"' in one["sql"] for one in asked) == 1
    book(diary, at(12), patient=another_patient(diary, 2))
    assert [ask(client, tag, look).status_code for look, tag in tags.items()] == [200, 200, 200, 200]


@time_machine.travel(NOW, tick=False)
def test_what_is_recorded_about_a_patient_comes_in_silence(diary: Cast) -> None:
    """It may change a gate mark; nobody is told that a desk had moved something."""
    booking = book(diary, at(9))
    stranger = another_patient(diary)
    client = sign_in(diary.desk)
    tag = client.get(ADDRESS).context["tag"]
    note_death(patient=stranger, actor=actor_of(diary.desk), now=NOW)
    assert ask(client, tag).status_code == 304
    note_death(patient=booking.patient, actor=actor_of(diary.desk), now=NOW)
    later = ask(client, tag)
    assert later.status_code == 200
    assert later.context["tag"].partition(".")[0] == tag.partition(".")[0]


@time_machine.travel(NOW, tick=False)
def test_every_change_is_news(diary: Cast) -> None:
    booking = book(diary, at(9))
    client = sign_in(diary.desk)
    who: dict[str, Any] = {"actor": actor_of(diary.desk), "now": NOW}
    tags = [client.get(ADDRESS).context["tag"]]

    def news() -> None:
        page = ask(client, tags[-1])
        assert page.status_code == 200
        tags.append(page.context["tag"])

    booking = actions.move(booking=booking, start_at=at(10), **who)
    news()
    other = book(diary, at(13), patient=another_patient(diary))
    news()
    actions.move(booking=other, start_at=at(13, day=DAY + timedelta(days=1)), **who)
    news()
    booking = actions.arrive(booking=booking, **who)
    news()
    booking = actions.take_back(booking=booking, **who)
    news()
    actions.cancel(booking=booking, by="patient", reason="", **who)
    news()
    assert ask(client, tags[-1]).status_code == 304


def test_the_line_of_now_comes_with_the_minute(diary: Cast) -> None:
    client = sign_in(diary.desk)
    with time_machine.travel(NOW, tick=False):
        tag = client.get(ADDRESS).context["tag"]
    with time_machine.travel(NOW + timedelta(seconds=59), tick=False):
        assert ask(client, tag).status_code == 304
    with time_machine.travel(NOW + timedelta(seconds=60), tick=False):
        later = ask(client, tag)
    assert later.status_code == 200
    # Only what follows the point is new: no reason to say that somebody changed something.
    assert later.context["tag"].partition(".")[0] == tag.partition(".")[0]


def test_a_page_that_follows_keeps_nobody_signed_in(diary: Cast) -> None:
    with time_machine.travel(NOW, tick=False) as clock:
        client = sign_in(diary.desk)
        tag = client.get(ADDRESS).context["tag"]
        for _minute in range(4):
            clock.shift(timedelta(seconds=61))
            tag = ask(client, tag).context["tag"]
        clock.shift(timedelta(seconds=61))
        answer = ask(client, tag)
        assert answer.status_code == 302
        assert answer["Location"].startswith(reverse("lock"))
