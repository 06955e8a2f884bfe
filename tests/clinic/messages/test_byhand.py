"""What staff do about messages that did not go the usual way."""

from datetime import timedelta
from typing import Any

import pytest
from django.core import mail

from clinic.accounts.rights import NotAllowed
from clinic.messages.actions import cancel_one
from clinic.messages.actions.byhand import CallSettled, NothingToSendAgain, SeenTo, send_again, settle_call
from clinic.messages.models import Call, DueMessage, Outcome, State
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast
from tests.clinic.messages.writing import CHECK, Planned, later
from tests.support import nothing_written


def test_it_works(planned: Planned, cast: Cast) -> None:
    missed = planned(CHECK)
    sweep(now=later(days=3))
    missed.refresh_from_db()
    again = send_again(message=missed, user=cast.desk, actor=cast.desk.actor, now=later(days=3))
    assert (again.step, again.due_at) == (100, later(days=3))
    assert Call.objects.get().outcome == Outcome.OVER
    entry = TrailEntry.objects.get(verb="messages.call_settled")
    assert (entry.subject_id, entry.actor_id) == (str(missed.pk), cast.desk.actor.id)
    sweep(now=later(days=3))
    assert len(mail.outbox) == 1
    assert TrailEntry.objects.filter(verb="messages.sent_again").get().actor_id == cast.desk.actor.id


def test_pressed_twice_it_is_sent_once(planned: Planned, cast: Cast) -> None:
    missed = planned()
    sweep(now=later(days=3))
    for _ in range(2):
        send_again(message=missed, user=cast.desk, actor=cast.desk.actor, now=later(days=3))
    assert DueMessage.objects.count() == 2


@pytest.mark.parametrize("state", [State.PLANNED, State.DUE, State.HANDED_OVER, State.CANCELLED, State.DELIVERED])
def test_only_what_went_wrong_is_sent_again(planned: Planned, cast: Cast, state: State) -> None:
    message = planned()
    DueMessage.objects.update(state=state)
    with nothing_written(), pytest.raises(NothingToSendAgain):
        send_again(message=message, user=cast.desk, actor=cast.desk.actor, now=NOW)


def test_wrong_role(planned: Planned, cast: Cast) -> None:
    message = planned(CHECK)
    sweep(now=later(days=3))
    call = Call.objects.get()
    manager: dict[str, Any] = {"user": cast.manager, "actor": cast.manager.actor, "now": NOW}
    with nothing_written():
        with pytest.raises(NotAllowed):
            send_again(message=message, **manager)
        with pytest.raises(NotAllowed):
            settle_call(call=call, outcome=Outcome.REACHED, **manager)
        with pytest.raises(NotAllowed):
            cancel_one(message=message, because="no", **manager)


def test_other_site(planned: Planned, cast: Cast) -> None:
    message = planned()
    with nothing_written(), pytest.raises(NotAllowed):
        cancel_one(message=message, because="no", user=cast.elsewhere, actor=cast.elsewhere.actor, now=NOW)
    assert not DueMessage.objects.visible_to(cast.elsewhere).exists()


def test_a_call_is_settled_once(planned: Planned, cast: Cast) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(channel="phone")
    planned()
    sweep(now=NOW)
    [call] = Call.objects.visible_to(cast.desk).open()
    assert not Call.objects.visible_to(cast.elsewhere).exists()
    desk: dict[str, Any] = {"user": cast.desk, "actor": cast.desk.actor}
    settle_call(call=call, outcome=Outcome.LEFT_MESSAGE, now=NOW, **desk)
    assert (call.settled_by, call.outcome) == ("Dana Popescu", Outcome.LEFT_MESSAGE)
    with nothing_written(), pytest.raises(CallSettled):
        settle_call(call=call, outcome=Outcome.REACHED, now=NOW + timedelta(minutes=1), **desk)


def test_what_somebody_has_called_about_is_not_sent_again(planned: Planned, cast: Cast) -> None:
    missed = planned(CHECK)
    sweep(now=later(days=3))
    desk: dict[str, Any] = {"user": cast.desk, "actor": cast.desk.actor, "now": later(days=3)}
    settle_call(call=Call.objects.get(), outcome=Outcome.REACHED, **desk)
    with nothing_written(), pytest.raises(SeenTo):
        send_again(message=missed, **desk)
