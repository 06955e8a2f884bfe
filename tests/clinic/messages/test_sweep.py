"""One sweep, from what is due to what became of it."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.core import mail
from django.db import transaction

from clinic.messages import purposes
from clinic.messages.actions import cancel_for, cancel_for_patient, cancel_one, plan
from clinic.messages.actions.planning import TooLateToCancel
from clinic.messages.claims import begin, claim, expire, release
from clinic.messages.models import Call, DueMessage, PrivateLink, State, Why
from clinic.messages.sweep import hand_over_now, sweep, sweep_until_settled
from clinic.patients.actions import choose_contact
from clinic.patients.models import Channel, Patient, Purpose
from clinic.trail.actor import SYSTEM
from clinic.trail.clock import real_now
from clinic.trail.models import TrailEntry
from clinic.trail.record import OutsideTransaction
from tests.cast import NOW, Cast
from tests.clinic.messages.writing import CHECK, REMINDER, Planned, Wishes, a_moment_ago, later
from tests.support import nothing_written


def states() -> list[str]:
    return list(DueMessage.objects.order_by("pk").values_list("state", flat=True))


def verbs() -> list[str]:
    return list(TrailEntry.objects.filter(verb__startswith="messages.").order_by("pk").values_list("verb", flat=True))


def test_it_works(planned: Planned) -> None:
    message = planned()
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.channel, message.sent_to) == (State.HANDED_OVER, "email", "amara@example.org")
    assert message.handed_over_at == NOW
    [sent] = mail.outbox
    assert (sent.to, sent.subject) == (["amara@example.org"], "Fernbrook: Tuesday")
    assert sent.from_email == "Fernbrook Dental Rooms <casebook@localhost>"
    assert sent.extra_headers["Message-ID"] == message.message_id
    assert verbs() == ["messages.planned", "messages.handed_over"]


def test_not_before_it_is_due(planned: Planned) -> None:
    planned(due_at=later(hours=1))
    with nothing_written():
        sweep(now=NOW)
    assert states() == [State.PLANNED]
    sweep(now=later(hours=1))
    assert states() == [State.HANDED_OVER]


def test_planning_twice_is_one_row(planned: Planned) -> None:
    assert planned().pk == planned().pk
    sweep(now=NOW)
    planned()
    sweep(now=NOW)
    assert len(mail.outbox) == 1


def test_a_newer_version_supersedes(planned: Planned) -> None:
    planned(version=1, due_at=later(days=1))
    planned(version=2, due_at=later(days=2))
    assert states() == [State.CANCELLED, State.PLANNED]


def test_a_kind_speaks_about_its_own_subjects(cast: Cast, wishes: Wishes) -> None:
    with pytest.raises(ValueError, match="speaks about"), transaction.atomic():
        plan(
            kind=REMINDER,
            subject=("booking", 1),
            patient=cast.patient,
            site=cast.fernbrook,
            due_at=NOW,
            now=NOW,
        )


def test_cancelled_is_never_sent(planned: Planned, cast: Cast) -> None:
    message = planned()
    assert cancel_for(subject=message.subject, because="called off", actor=SYSTEM, now=NOW) == 1
    sweep(now=NOW)
    assert states() == [State.CANCELLED]
    assert mail.outbox == []
    assert verbs() == ["messages.planned", "messages.cancelled"]


def test_cancelling_for_a_patient(planned: Planned, cast: Cast) -> None:
    planned()
    planned(CHECK)
    assert cancel_for_patient(patient=cast.patient, because="moved away", actor=SYSTEM, now=NOW) == 2


def test_too_late_to_cancel(planned: Planned, cast: Cast) -> None:
    message = planned()
    sweep(now=NOW)
    with nothing_written(), pytest.raises(TooLateToCancel):
        cancel_one(message=message, because="called off", user=cast.desk, actor=cast.desk.actor, now=NOW)


def test_cancelled_between_claim_and_hand_over(planned: Planned) -> None:
    message = planned()
    [held] = claim(now=NOW, real_now=real_now(), limit=1)
    cancel_for(subject=message.subject, because="called off", actor=SYSTEM, now=NOW)
    assert not begin(held, message_id="<x@y>", real_now=real_now())
    assert states() == [State.CANCELLED]


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
    Patient.objects.filter(pk=cast.patient.pk).update(merged_into=cast.teenager)
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


def test_safety_knows_no_limit(planned: Planned) -> None:
    planned()
    for step in range(4):
        planned(CHECK, step=step)
    sweep(now=NOW)
    assert states() == [State.HANDED_OVER] * 5


def test_no_link_before_the_numbers_stand(planned: Planned, cast: Cast) -> None:
    cast.fernbrook.poison_number = ""
    cast.fernbrook.save()
    message = planned(CHECK)
    sweep(now=NOW)
    message.refresh_from_db()
    assert message.state == State.DUE
    assert "poison-advice" in message.reason
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


def test_a_mistake_in_a_wording_stops_only_its_own_message(
    planned: Planned, wishes: Wishes, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned(CHECK)
    planned()
    # The reminder's subject is no string: composing works, looking it over does not.
    monkeypatch.setattr(wishes, "window", "no window")
    sweep(now=NOW)
    assert states() == [State.FAILED, State.HANDED_OVER]
    assert Call.objects.get().why == Why.FAILED


def test_a_claim_that_ran_out_is_due_again(planned: Planned) -> None:
    message = planned()
    claim(now=NOW, real_now=real_now(), limit=1)
    assert sweep(now=NOW).claimed == 0
    DueMessage.objects.update(lease_until=a_moment_ago())
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.attempt) == (State.HANDED_OVER, 2)


def test_released_rows_are_free_at_once(planned: Planned) -> None:
    planned()
    release(claim(now=NOW, real_now=real_now(), limit=1))
    assert sweep(now=NOW).states == {State.HANDED_OVER: 1}


def test_a_hand_over_that_ran_out_is_sent_once_more_at_most(planned: Planned) -> None:
    message = planned()
    for expected in (State.DUE, State.UNCERTAIN):
        [held] = claim(now=NOW, real_now=real_now(), limit=1)
        assert begin(held, message_id="<x@y>", real_now=real_now())
        DueMessage.objects.update(lease_until=a_moment_ago())
        expire(now=NOW, real_now=real_now())
        message.refresh_from_db()
        assert message.state == expected
    assert message.times_uncertain == 2
    assert sweep(now=NOW).claimed == 0


def test_uncertain_with_a_link_is_never_sent_again_by_itself(planned: Planned) -> None:
    message = planned(CHECK)
    [held] = claim(now=NOW, real_now=real_now(), limit=1)
    begin(held, message_id="<x@y>", real_now=real_now())
    DueMessage.objects.update(lease_until=a_moment_ago())
    sweep(now=NOW)
    message.refresh_from_db()
    assert message.state == State.UNCERTAIN
    assert mail.outbox == []


def test_one_message_at_once(planned: Planned) -> None:
    waited_for, other = planned(CHECK), planned()
    hand_over_now(waited_for.pk, now=NOW)
    hand_over_now(waited_for.pk, now=NOW)
    other.refresh_from_db()
    assert (len(mail.outbox), other.state) == (1, State.DUE)


def test_outside_a_transaction_nothing_is_planned(wishes: Wishes) -> None:
    with pytest.raises(OutsideTransaction):
        plan(kind=REMINDER, subject=("patient", 1), patient=Patient(), site=None, due_at=NOW, now=NOW)  # type: ignore[arg-type]


def test_the_tick_costs_nothing_when_nothing_is_due(planned: Planned, django_assert_max_num_queries: Callable) -> None:  # type: ignore[type-arg]
    planned(due_at=NOW + timedelta(days=1))
    with django_assert_max_num_queries(8):
        sweep(now=NOW)
