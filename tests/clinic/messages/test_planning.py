"""Planning and cancelling, in the transaction of what caused them."""

import pytest
from django.core import mail
from django.db import IntegrityError, transaction

from clinic.messages.actions import cancel_for, cancel_for_patient, cancel_one, plan
from clinic.messages.actions.planning import NEXT_TRY, TooLateToCancel
from clinic.messages.claims import begin, claim
from clinic.messages.models import State
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM
from clinic.trail.clock import real_now
from clinic.trail.record import OutsideTransaction
from tests.cast import NOW, Cast
from tests.clinic.messages.writing import CHECK, REMINDER, Planned, Wishes, later, states, verbs
from tests.support import nothing_written


def test_planning_twice_is_one_row(planned: Planned) -> None:
    assert planned().pk == planned().pk
    sweep(now=NOW)
    planned()
    sweep(now=NOW)
    assert len(mail.outbox) == 1


def test_asked_again_it_stands_as_it_was_planned(planned: Planned) -> None:
    message = planned(due_at=later(days=1))
    with nothing_written():
        assert planned(due_at=later(days=2)).due_at == message.due_at


def test_what_the_database_refuses_is_not_planned(planned: Planned, cast: Cast) -> None:
    assert cast.patient.pk
    with nothing_written(), pytest.raises(IntegrityError):
        planned(not_after=later(days=-1))


@pytest.mark.parametrize("wrong", [{"version": 0}, {"step": -1}, {"step": NEXT_TRY}])
def test_versions_and_steps_have_their_range(planned: Planned, cast: Cast, wrong: dict[str, int]) -> None:
    assert cast.patient.pk
    with nothing_written(), pytest.raises(ValueError, match="versions from 1"):
        planned(**wrong)


def test_a_newer_version_supersedes(planned: Planned) -> None:
    planned(version=1, due_at=later(days=1))
    planned(version=2, due_at=later(days=2))
    assert states() == [State.CANCELLED, State.PLANNED]
    assert verbs() == ["messages.planned", "messages.cancelled", "messages.planned"]


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


def test_outside_a_transaction_nothing_is_planned(wishes: Wishes) -> None:
    with pytest.raises(OutsideTransaction):
        plan(kind=REMINDER, subject=("patient", 1), patient=Patient(), site=None, due_at=NOW, now=NOW)  # type: ignore[arg-type]
