"""Mail came back from a patient's address."""

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from clinic.messages.actions.bouncing import CameBack, NotTheAddress, mail_came_back
from clinic.messages.models import Call, DueMessage, Outcome, State, Why
from clinic.messages.sweep import sweep
from clinic.patients.actions import change_patient, details_of
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.messages.writing import CHECK, Planned, Wishes, later, states, verbs
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")

ADDRESS = "amara@example.org"


@pytest.fixture
def desk(cast: Cast) -> Client:
    return sign_in(cast.desk)


def press(desk: Client, cast: Cast, **values: str) -> str:
    answer = desk.post(reverse("patient_mail", args=[cast.patient.pk]), {"address": ADDRESS} | values, follow=True)
    return answer.content.decode()


def test_it_works(desk: Client, cast: Cast, planned: Planned) -> None:
    """What went there and what is due now are calls; what is due later waits for a corrected address."""
    sent = planned(CHECK)
    sweep(now=NOW)
    due, coming = planned(), planned(step=1, due_at=later(days=1))
    page = press(desk, cast)
    assert "2 messages are now calls to make; see Follow-ups." in page
    assert "Mail to this address comes back since" in page
    assert states() == [State.BOUNCED, State.FAILED, State.PLANNED]
    assert {call.message: call.why for call in Call.objects.all()} == {sent: Why.BOUNCED, due: Why.BOUNCED}
    assert verbs()[-5:] == [
        "messages.mail_came_back",
        "messages.came_back",
        "messages.became_a_call",
        "messages.failed",
        "messages.became_a_call",
    ]
    mail.outbox.clear()
    sweep(now=later(days=1))
    assert mail.outbox == []
    coming.refresh_from_db()
    assert coming.call.why == Why.BOUNCED
    with nothing_written():
        press(desk, cast)


def test_a_corrected_address_lifts_the_mark(desk: Client, cast: Cast, planned: Planned) -> None:
    planned(due_at=later(days=1))
    press(desk, cast)
    patient = Patient.objects.get(pk=cast.patient.pk)
    details = details_of(patient)
    details = type(details)(**{name: getattr(details, name) for name in details.__slots__} | {"email": "a@example.org"})
    change_patient(
        patient=patient, details=details, seen_version=patient.version, user=cast.desk, actor=cast.desk.actor, now=NOW
    )
    sweep(now=later(days=1))
    assert [one.to for one in mail.outbox] == [["a@example.org"]]
    assert not Call.objects.exists()


def test_it_goes_by_text_where_texts_go_out(cast: Cast, planned: Planned, settings: Settings) -> None:
    sent = planned(CHECK)
    sweep(now=NOW)
    settings.SMS_URL = "json://localhost/{to}"
    Patient.objects.filter(pk=cast.patient.pk).update(phone="+447700900123")
    found = mail_came_back(patient=cast.patient, address=ADDRESS.upper(), actor=actor_of(cast.desk), now=NOW)
    assert found == CameBack(messages=1, calls=0)
    again = DueMessage.objects.exclude(pk=sent.pk).get()
    assert (again.step, again.state) == (100, State.DUE)


def test_what_nobody_needs_to_be_told_is_no_call(cast: Cast, planned: Planned, wishes: Wishes) -> None:
    planned(CHECK)
    sweep(now=NOW)
    wishes.wanted = "changed since"
    found = mail_came_back(patient=cast.patient, address=ADDRESS, actor=cast.desk.actor, now=later(hours=1))
    assert (found, states()) == (CameBack(), [State.HANDED_OVER])


def test_what_is_too_late_to_say_is_no_call(cast: Cast, planned: Planned) -> None:
    planned(CHECK)
    sweep(now=NOW)
    # Three days on, what was sent is too late to say.
    assert mail_came_back(patient=cast.patient, address=ADDRESS, actor=cast.desk.actor, now=later(days=3)) == CameBack()
    assert states() == [State.HANDED_OVER]


def test_taken_back_it_goes_out_and_nobody_calls(desk: Client, cast: Cast, planned: Planned) -> None:
    planned()
    press(desk, cast)
    assert Call.objects.open().count() == 1
    assert "Mail goes to this address again." in press(desk, cast, back="1")
    assert [(call.outcome, call.settled_by) for call in Call.objects.all()] == [(Outcome.OVER, "Dana Popescu")]
    sweep(now=NOW)
    assert [one.to for one in mail.outbox] == [[ADDRESS]]
    with nothing_written():
        press(desk, cast, back="1")


@pytest.mark.parametrize("address", ["", "somebody@example.org"])
def test_another_address_is_refused(desk: Client, cast: Cast, planned: Planned, address: str) -> None:
    planned()
    with nothing_written():
        assert "not the address of this patient any more" in press(desk, cast, address=address)
        with pytest.raises(NotTheAddress):
            mail_came_back(patient=cast.patient, address=address, actor=cast.desk.actor, now=NOW)


def test_other_site(cast: Cast) -> None:
    client = sign_in(cast.elsewhere_desk)
    where = reverse("patient_mail", args=[cast.patient.pk])
    with nothing_written():
        assert client.post(where, {"address": ADDRESS}).status_code == 404
