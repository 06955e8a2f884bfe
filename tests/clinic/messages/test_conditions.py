"""What is read again right before a message goes out."""

from datetime import UTC, datetime, timedelta

import pytest
from django.core import mail

from clinic.messages import purposes
from clinic.messages.conditions import LIMITED, MOMENT
from clinic.messages.models import Call, DueMessage, PrivateLink, State, Why
from clinic.messages.sweep import sweep, sweep_until_settled
from clinic.patients.actions import choose_contact
from clinic.patients.models import Channel, Patient, Purpose
from clinic.trail.clock import real_now
from tests.cast import NOW, Cast
from tests.clinic.messages.writing import CHECK, Planned, Wishes, another, later, states


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"died_on": NOW.date()}, "the patient has died"),
        ({}, "changed since"),
    ],
)
def test_conditions_are_read_again(
    planned: Planned, cast: Cast, wishes: Wishes, change: dict[str, object], reason: str
) -> None:
    message = planned()
    Patient.objects.filter(pk=cast.patient.pk).update(**change)
    if not change:
        wishes.wanted = "changed since"
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.reason) == (State.CANCELLED, reason)
    assert mail.outbox == []


def test_an_opt_out_holds_for_its_purpose_only(planned: Planned, cast: Cast) -> None:
    planned(CHECK)
    planned()
    refused = {Purpose.APPOINTMENT: False}
    choose_contact(
        patient=cast.patient, choices=refused, wordings={Purpose.APPOINTMENT: "No"}, actor=cast.desk.actor, now=NOW
    )
    sweep(now=NOW)
    assert states() == [State.HANDED_OVER, State.CANCELLED]


def test_a_refused_safety_message_becomes_a_call(planned: Planned, cast: Cast) -> None:
    planned(CHECK)
    refused = {Purpose.SAFETY: False}
    choose_contact(
        patient=cast.patient, choices=refused, wordings={Purpose.SAFETY: "No"}, actor=cast.desk.actor, now=NOW
    )
    sweep(now=NOW)
    assert Call.objects.get().why == Why.OPTED_OUT


def test_a_merged_patient_is_reached_through_the_row_that_stays(planned: Planned, cast: Cast) -> None:
    planned()
    Patient.objects.filter(pk=cast.patient.pk).update(merged_into=cast.teenager, merged_at=NOW)
    Patient.objects.filter(pk=cast.teenager.pk).update(email="jip@example.org")
    sweep(now=NOW)
    assert mail.outbox[0].to == ["jip@example.org"]


def test_too_late_is_missed_and_never_sent(planned: Planned) -> None:
    planned()
    planned(CHECK)
    sweep(now=later(days=3))
    assert states() == [State.MISSED, State.MISSED]
    assert mail.outbox == []
    assert Call.objects.get().why == Why.MISSED


def test_quiet_hours_move_it_to_the_morning(planned: Planned) -> None:
    evening = datetime(2026, 3, 3, 20, 0, tzinfo=UTC)
    message = planned(due_at=evening)
    sweep(now=evening)
    message.refresh_from_db()
    assert (message.state, message.due_at) == (State.DUE, datetime(2026, 3, 4, 8, 0, tzinfo=UTC))


def test_it_is_the_patients_own_night_where_they_live_elsewhere(planned: Planned, cast: Cast) -> None:
    """Nine in the morning at the practice is four in New York."""
    Patient.objects.filter(pk=cast.patient.pk).update(timezone="America/New_York")
    message = planned(due_at=NOW)
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.due_at) == (State.DUE, datetime(2026, 3, 3, 13, 0, tzinfo=UTC))
    sweep(now=message.due_at)
    message.refresh_from_db()
    assert message.state == State.HANDED_OVER


def test_a_closed_day_waits_except_for_safety(planned: Planned, wishes: Wishes) -> None:
    wishes.window = purposes.Window(opens_at=NOW, closes_at=later(days=60))
    # Good Friday to Easter Monday 2026 (3 to 6 April) in England; the site gives no region.
    friday = datetime(2026, 4, 3, 9, 0, tzinfo=UTC)
    reminder, check = planned(due_at=friday), planned(CHECK, due_at=friday)
    sweep(now=friday)
    reminder.refresh_from_db()
    check.refresh_from_db()
    assert (reminder.state, reminder.due_at) == (State.DUE, datetime(2026, 4, 4, 9, 0, tzinfo=UTC))
    assert check.state == State.HANDED_OVER


def test_one_a_day_and_three_a_week(planned: Planned) -> None:
    first = [planned(step=step) for step in range(5)]
    sweep_until_settled(now=NOW)
    for day in range(1, 8):
        sweep_until_settled(now=later(days=day))
    sent = [DueMessage.objects.get(pk=message.pk).handed_over_at for message in first]
    # The fourth would come within seven days of the first; by then it is too late for both that are left.
    assert sent == [NOW, later(days=1), later(days=2), None, None]
    assert states()[3:] == [State.MISSED, State.MISSED]


def test_the_older_of_two_that_go_at_once_asks_again_in_a_moment(planned: Planned) -> None:
    """The younger may have looked before the older one began."""
    older, younger = planned(step=0), planned(step=1)
    _goes_out_by_another_sweep(younger)
    sweep(now=NOW)
    older.refresh_from_db()
    assert (older.state, older.due_at, older.reason) == (State.DUE, NOW, LIMITED)
    assert older.lease_until is not None
    assert timedelta(0) < older.lease_until - real_now() <= MOMENT
    assert mail.outbox == []


def test_the_younger_of_two_that_go_at_once_counts_the_older_as_sent(planned: Planned) -> None:
    older, younger = planned(step=0), planned(step=1)
    _goes_out_by_another_sweep(older)
    sweep(now=NOW)
    younger.refresh_from_db()
    assert (younger.state, younger.due_at) == (State.DUE, later(days=1))
    assert mail.outbox == []


@pytest.mark.parametrize("alias_first", [True, False])
def test_what_goes_out_under_a_joined_record_counts_for_the_person(
    planned: Planned, cast: Cast, alias_first: bool
) -> None:
    alias, own = another(cast, 1), cast.patient
    Patient.objects.filter(pk=alias.pk).update(merged_into=own, merged_at=NOW)
    for patient in (alias, own) if alias_first else (own, alias):
        planned(patient=patient, subject=("patient", patient.pk))
        sweep(now=NOW)
    assert (states(), len(mail.outbox)) == ([State.HANDED_OVER, State.DUE], 1)


def _goes_out_by_another_sweep(message: DueMessage) -> None:
    lease = real_now() + timedelta(minutes=3)
    DueMessage.objects.filter(pk=message.pk).update(state=State.HANDING_OVER, lease_until=lease, attempt=1)


def test_safety_knows_no_limit(planned: Planned) -> None:
    planned()
    for step in range(4):
        planned(CHECK, step=step)
    sweep(now=NOW)
    assert states() == [State.HANDED_OVER] * 5


@pytest.mark.parametrize("number", ["phone", "emergency_number", "poison_number", "out_of_hours_number"])
def test_no_link_before_the_numbers_stand(planned: Planned, cast: Cast, number: str) -> None:
    setattr(cast.fernbrook, number, "")
    cast.fernbrook.save()
    message = planned(CHECK)
    sweep(now=NOW)
    message.refresh_from_db()
    assert message.state == State.DUE
    assert "Set-up lacks the telephone or" in message.reason
    assert not PrivateLink.objects.exists()
    # Held back for some minutes: the next tick does not even look at it.
    assert sweep(now=NOW).claimed == 0


@pytest.mark.parametrize("channel", [Channel.PHONE, Channel.LETTER])
def test_who_wants_a_call_gets_a_call(planned: Planned, cast: Cast, channel: Channel) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(channel=channel)
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.channel) == (State.HANDED_OVER, channel)
    assert message.call.why == Why.PREFERS
    assert mail.outbox == []


def test_without_any_channel_a_person_calls(planned: Planned, cast: Cast) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(email="")
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.call.why) == (State.FAILED, Why.NO_CHANNEL)


def test_a_clinical_word_in_the_subject_stops_it(planned: Planned, wishes: Wishes) -> None:
    wishes.subject = "Your whitening on Tuesday"
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.reason) == (State.FAILED, "a clinical word stands in the subject")
    assert mail.outbox == []
