"""A batch is read in one go: what changes before a message's turn comes still counts, and each costs few questions."""

from collections.abc import Callable, Sequence
from datetime import datetime

import pytest
from django.core import mail
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from clinic.accounts.models import Site
from clinic.messages import ahead
from clinic.messages.actions import cancel_for
from clinic.messages.actions.choosing import choose
from clinic.messages.actions.leaving import end_messages_of
from clinic.messages.conditions import Known
from clinic.messages.models import DueMessage, Held, ReplyRule, State, TextReplies
from clinic.messages.sweep import sweep
from clinic.patients.actions import choose_contact
from clinic.patients.leaving import Leaving
from clinic.patients.models import Channel, Patient, Purpose
from tests.cast import NOW, Cast
from tests.clinic.messages.between import when_the_first_goes_out
from tests.clinic.messages.writing import CHECK, REMINDER, Planned, another, states

Change = Callable[[Patient, Cast], object]
NO_REMINDERS = {one: one != Purpose.APPOINTMENT for one in Purpose}
WORDS = dict.fromkeys(Purpose, "as on the page")


def to_each(planned: Planned, people: list[Patient], kind: str = REMINDER) -> list[DueMessage]:
    return [planned(kind, patient=one, subject=("patient", one.pk)) for one in people]


def in_its_transaction(change: Callable[[], object]) -> None:
    with transaction.atomic():
        change()


def update(**values: object) -> Change:
    """As another part might write it, without a word to what waits."""
    return lambda patient, _cast: Patient.objects.filter(pk=patient.pk).update(**values)


def says_no(patient: Patient, cast: Cast) -> None:
    """Only the proof of the choice: nothing that waits is cancelled with it."""
    refused = {Purpose.APPOINTMENT: False}
    choose_contact(patient=patient, choices=refused, wordings=WORDS, actor=cast.desk.actor, now=NOW)


def chooses_no_reminders(patient: Patient, cast: Cast) -> None:
    choose(patient=patient, channel=Channel.EMAIL, choices=NO_REMINDERS, wordings=WORDS, actor=cast.desk.actor, now=NOW)


def dies(patient: Patient, cast: Cast) -> None:
    in_its_transaction(lambda: end_messages_of(patient, Leaving.DIED, cast.desk.actor, NOW))


def is_called_off(patient: Patient, cast: Cast) -> None:
    about = ("patient", patient.pk)
    in_its_transaction(lambda: cancel_for(subject=about, because="changed", actor=cast.desk.actor, now=NOW))


@pytest.mark.parametrize(
    ("change", "state"),
    [
        (update(died_on=NOW.date()), State.CANCELLED),
        (update(channel=Channel.PHONE), State.HANDED_OVER),
        (update(email_bounced_at=NOW), State.FAILED),
        (update(email=""), State.FAILED),
        (update(timezone="America/New_York"), State.DUE),
        (says_no, State.CANCELLED),
        (chooses_no_reminders, State.CANCELLED),
        (dies, State.CANCELLED),
        (is_called_off, State.CANCELLED),
    ],
)
def test_what_changes_before_its_turn_counts(
    planned: Planned, cast: Cast, monkeypatch: pytest.MonkeyPatch, change: Change, state: State
) -> None:
    first, second = another(cast, 1), another(cast, 2)
    _one, message = to_each(planned, [first, second])
    when_the_first_goes_out(monkeypatch, lambda: change(second, cast))
    sweep(now=NOW)
    message.refresh_from_db()
    assert message.state == state
    assert [one.to for one in mail.outbox] == [["ines1@example.org"]]


def test_a_corrected_address_counts(planned: Planned, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = another(cast, 1), another(cast, 2)
    to_each(planned, [first, second])
    when_the_first_goes_out(monkeypatch, lambda: update(email="right@example.org")(second, cast))
    sweep(now=NOW)
    assert [one.to for one in mail.outbox] == [["ines1@example.org"], ["right@example.org"]]


def test_who_is_merged_before_their_turn_is_reached_through_the_row_that_stays(
    planned: Planned, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = another(cast, 1), another(cast, 2)
    to_each(planned, [first, second])
    when_the_first_goes_out(monkeypatch, lambda: update(merged_into=cast.patient, merged_at=NOW)(second, cast))
    sweep(now=NOW)
    assert [one.to for one in mail.outbox] == [["ines1@example.org"], ["amara@example.org"]]


def test_no_link_goes_out_once_set_up_lacks_a_number(
    planned: Planned, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    to_each(planned, [another(cast, 1), another(cast, 2)], CHECK)
    when_the_first_goes_out(monkeypatch, lambda: Site.objects.update(phone=""))
    sweep(now=NOW)
    assert states() == [State.HANDED_OVER, State.DUE]


def test_what_the_practice_says_of_replies_to_texts_is_looked_at_again(
    planned: Planned, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    to_each(planned, [another(cast, 1), another(cast, 2)])
    held: list[bool] = []

    def speaks() -> None:
        TextReplies.objects.create(site=cast.fernbrook, rule=ReplyRule.NEEDED, said_at=NOW, said_by="Mara")

    look_again = ahead.Ahead.look_again

    def noted(one: ahead.Ahead, *, now: datetime) -> Known | None:
        known = look_again(one, now=now)
        held.append(known is not None)
        return known

    monkeypatch.setattr(ahead.Ahead, "look_again", noted)
    when_the_first_goes_out(monkeypatch, speaks)
    sweep(now=NOW)
    assert (held, states()) == ([True, False], [State.HANDED_OVER] * 2)


def test_two_for_one_person_in_a_batch_are_still_one_a_day(planned: Planned, cast: Cast) -> None:
    patient = another(cast, 1)
    for step in range(2):
        planned(patient=patient, subject=("patient", patient.pk), step=step)
    sweep(now=NOW)
    assert (states(), len(mail.outbox)) == ([State.HANDED_OVER, State.DUE], 1)


def test_what_only_the_words_rest_on_is_read_anew_behind_a_slow_server(
    planned: Planned, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    to_each(planned, [another(cast, number) for number in range(3)])
    read = ahead._read
    asked: list[int] = []

    def reading(batch: Sequence[Held], *, now: datetime) -> object:
        asked.append(len(batch))
        return read(batch, now=now)

    monkeypatch.setattr(ahead, "_read", reading)
    monkeypatch.setattr(ahead, "GOOD_FOR_SECONDS", -1)
    sweep(now=NOW)
    assert (asked, len(mail.outbox)) == ([3, 2, 1], 3)


@pytest.mark.parametrize(("kind", "most"), [(REMINDER, 3), (CHECK, 4)])
def test_each_message_costs_so_many_statements(planned: Planned, cast: Cast, kind: str, most: int) -> None:
    """Begun, looked at again with the limits, the link with its entry, settled and noted. No further one begins or ends
    a transaction.

    SQLite writes each entry with a statement of its own.
    """
    if connection.vendor == "sqlite":
        most += 1 if kind == REMINDER else 2

    def cost(*numbers: int) -> int:
        to_each(planned, [another(cast, number) for number in numbers], kind)
        with CaptureQueriesContext(connection) as asked:
            assert sweep(now=NOW).states == {State.HANDED_OVER: len(numbers)}
        return sum(1 for one in asked.captured_queries if "SAVEPOINT" not in one["sql"])

    cost(1, 2)
    assert cost(*range(20, 30)) - cost(*range(10, 16)) == 4 * most
