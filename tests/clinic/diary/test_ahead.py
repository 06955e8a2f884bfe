"""Visits that change while a batch of messages is on its way, after it was read: nobody gets the mail of before."""

from collections.abc import Callable

import pytest
from django.core import mail
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.diary import actions, before
from clinic.diary.before import ToDo
from clinic.diary.models import Booking, Status
from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import another_patient, at, book
from tests.clinic.diary.test_before import some
from tests.clinic.messages.between import when_the_first_goes_out

Change = Callable[[Booking, Cast], object]


def is_cancelled(booking: Booking, cast: Cast) -> None:
    actions.cancel(booking=booking, by="practice", reason="", actor=actor_of(cast.desk), now=NOW)


def is_moved(booking: Booking, cast: Cast) -> None:
    actions.move(booking=booking, start_at=at(15), actor=actor_of(cast.desk), now=NOW)


def update(**values: object) -> Change:
    """As another part might write it, without a word to what waits."""
    return lambda booking, _cast: Booking.objects.filter(pk=booking.pk).update(**values)


@pytest.mark.parametrize("change", [is_cancelled, is_moved, update(status=Status.NOSHOW)])
def test_its_confirmation_stays_here(diary: Cast, monkeypatch: pytest.MonkeyPatch, change: Change) -> None:
    book(diary, at(9), patient=another_patient(diary, 1))
    second = book(diary, at(10), patient=another_patient(diary, 2))
    when_the_first_goes_out(monkeypatch, lambda: change(second, diary))
    sweep(now=NOW)
    message = DueMessage.objects.get(subject_id=second.pk, kind="visit_confirmed")
    assert message.state == State.CANCELLED
    assert [one.to for one in mail.outbox] == [["ines1@example.org"]]


def test_a_version_that_says_nothing_new_stops_no_confirmation(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Clock rules of a country that were followed, or somebody who said that they come: nothing else tells the time."""
    book(diary, at(9), patient=another_patient(diary, 1))
    second = book(diary, at(10), patient=another_patient(diary, 2))
    when_the_first_goes_out(monkeypatch, lambda: update(version=7)(second, diary))
    sweep(now=NOW)
    assert [one.to for one in mail.outbox] == [["ines1@example.org"], ["ines2@example.org"]]


def test_an_earlier_time_stands_in_the_mail_of_its_turn(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """A late start keeps the version: the words follow the row as it is."""
    book(diary, at(9), patient=another_patient(diary, 1))
    second = book(diary, at(10), patient=another_patient(diary, 2))
    when_the_first_goes_out(monkeypatch, lambda: update(wall_time=at(11).time())(second, diary))
    sweep(now=NOW)
    assert "11:00" in str(mail.outbox[1].body)


def test_each_message_says_what_is_to_be_done_before_its_own_visit(
    diary: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    ready, waiting = (book(diary, at(hour), patient=another_patient(diary, hour)) for hour in (9, 10))
    thing = ToDo(title="Health questions", url_name="preferences", minutes=4, done=False)
    provider, _missing = some(thing)
    monkeypatch.setattr(before, "_providers", [(provider, lambda _bookings, _now: {waiting.pk})])
    sweep(now=NOW)
    said = ["something to read" in str(one.body) for one in mail.outbox]
    assert (said, ready.pk < waiting.pk) == ([False, True], True)


def test_each_confirmation_costs_so_many_statements(diary: Cast) -> None:
    """Begun; looked at again; the link with its entry; settled with its entry, where no older link is left.

    SQLite does the last two with two statements each.
    """

    def cost(*hours: int) -> int:
        for hour in hours:
            book(diary, at(hour), patient=another_patient(diary, hour))
        with CaptureQueriesContext(connection) as asked:
            assert sweep(now=NOW).states == {State.HANDED_OVER: len(hours)}
        return sum(1 for one in asked.captured_queries if "SAVEPOINT" not in one["sql"])

    cost(9, 10)
    assert cost(13, 14, 15, 16) - cost(11, 12) == 2 * (6 if connection.vendor == "sqlite" else 4)
