"""A visit's own page tells every step: who, when, and to which time."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.history import history
from clinic.diary.models import Booking
from clinic.trail import keys
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import at, book, pencil


def told(booking: Booking) -> list[tuple[str, str]]:
    return [(str(step.actor_name), str(step.sentence)) for day in history(booking) for step in day.entries]


def lived(cast: Cast) -> Booking:
    desk, dentist = actor_of(cast.desk), actor_of(cast.clinician)
    with time_machine.travel(NOW, tick=False):
        booking = book(cast, at(9), tell=False)
    with time_machine.travel(NOW + timedelta(hours=1), tick=False):
        booking = actions.move(booking=booking, start_at=at(14), actor=dentist, now=NOW)
    with time_machine.travel(at(8), tick=False):
        return actions.cancel(booking=booking, by="patient", reason="Has a cold.", actor=desk, now=at(8))


def test_every_step_with_who_and_when(diary: Cast) -> None:
    booking = lived(diary)
    assert told(booking) == [
        ("Dana Popescu", "cancelled a visit: Has a cold."),
        ("Cleo Haddad", "moved a visit: Wed 4 Mar 2026, 14:00"),
        ("Dana Popescu", "booked a visit: Wed 4 Mar 2026, 09:00"),
    ]
    days = history(booking)
    assert [(day.on.isoformat(), [f"{one.at:%H:%M}" for one in day.entries]) for day in days] == [
        ("2026-03-04", ["08:00"]),
        ("2026-03-03", ["10:00", "09:00"]),
    ]
    with time_machine.travel(at(8), tick=False):
        page = sign_in(diary.desk).get(reverse("booking", kwargs={"pk": booking.pk})).content.decode()
    assert "moved a visit: Wed 4 Mar 2026, 14:00" in page


def test_what_the_program_did_by_itself(diary: Cast) -> None:
    booking = pencil(diary, at(9))
    actions.lapse_due(now=NOW + timedelta(days=1))
    assert told(booking)[0] == ("Casebook", "let a pencilled visit lapse")


def test_an_erased_patient_leaves_the_steps(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    booking = lived(diary)
    monkeypatch.setattr(keys, "find", lambda _patient_id: None)
    assert [sentence for _who, sentence in told(booking)] == ["cancelled a visit", "moved a visit", "booked a visit"]


def test_one_question_however_long_it_is(diary: Cast) -> None:
    booking = lived(diary)
    with CaptureQueriesContext(connection) as asked:
        history(booking)
    assert len(asked) == 1
