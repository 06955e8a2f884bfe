"""Messages that failed, were missed or are uncertain: somebody sees them, and sees to them."""

import pytest
from django.test import Client
from django.urls import reverse

from clinic.messages.models import Call, DueMessage, Outcome, State, Why
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening.recall import afterwards
from whitening.recall.worklist import Section

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def desk(cast: Cast) -> Client:
    return sign_in(cast.desk)


def listed(desk: Client) -> list[int]:
    shown = desk.get(reverse("followups")).context["parts"]
    return [message.pk for part, rows, _all in shown if part.section == Section.ASTRAY for message, _about in rows]


def press(desk: Client, message: DueMessage, done: str) -> str:
    return desk.post(reverse("message_astray", args=[message.pk]), {"done": done}, follow=True).content.decode()


@pytest.mark.parametrize(
    ("state", "is_listed"),
    [
        (State.UNCERTAIN, True),
        (State.FAILED, True),
        (State.MISSED, True),
        (State.BOUNCED, True),
        (State.HANDED_OVER, False),
        (State.CANCELLED, False),
    ],
)
def test_what_went_astray_is_listed(cast: Cast, desk: Client, state: State, is_listed: bool) -> None:
    message = afterwards.an_astray_message(cast, state=state)
    assert listed(desk) == ([message.pk] if is_listed else [])


@pytest.mark.parametrize(("done", "outcome"), [("called", Outcome.REACHED), ("let_be", Outcome.NOT_NEEDED)])
def test_seen_to_it_is_off_the_list(cast: Cast, desk: Client, done: str, outcome: Outcome) -> None:
    message = afterwards.an_astray_message(cast)
    page = desk.get(reverse("followups")).content.decode()
    assert "1 message to look at" in page
    assert "Let it be" in page
    press(desk, message, done)
    call = Call.objects.get()
    assert (call.message, call.why, call.outcome, call.settled_by) == (
        message,
        Why.UNCERTAIN,
        outcome,
        "Dana Popescu",
    )
    assert listed(desk) == []
    assert not Call.objects.open().exists()
    with nothing_written():
        assert "Somebody has seen to this message already." in press(desk, message, done)


def test_sent_again_it_is_off_the_list(cast: Cast, desk: Client) -> None:
    message = afterwards.an_astray_message(cast)
    press(desk, message, "again")
    again = DueMessage.objects.get(kind=message.kind, step=100)
    assert (again.state, again.due_at) == (State.DUE, NOW)
    assert listed(desk) == []
    with nothing_written():
        press(desk, message, "let_be")


def test_a_call_a_death_or_another_site_is_not_listed(cast: Cast, desk: Client) -> None:
    message = afterwards.an_astray_message(cast)
    assert listed(sign_in(cast.elsewhere_desk)) == []
    Patient.objects.filter(pk=cast.patient.pk).update(died_on=NOW.date())
    assert listed(desk) == []
    Patient.objects.filter(pk=cast.patient.pk).update(died_on=None)
    Call.objects.create(message=message, site=message.site, patient=cast.patient, why=Why.FAILED, wanted_at=NOW)
    assert listed(desk) == []


@pytest.mark.parametrize("done", ["", "forget it"])
def test_refused_without_an_answer(cast: Cast, desk: Client, done: str) -> None:
    message = afterwards.an_astray_message(cast)
    with nothing_written():
        assert "Say what becomes of the message." in press(desk, message, done)


def test_who_sends_no_messages_is_refused(cast: Cast) -> None:
    message = afterwards.an_astray_message(cast)
    where = reverse("message_astray", args=[message.pk])
    manager, elsewhere = sign_in(cast.manager), sign_in(cast.elsewhere_desk)
    with nothing_written():
        assert manager.post(where, {"done": "called"}).status_code == 403
        assert elsewhere.post(where, {"done": "called"}).status_code == 404
