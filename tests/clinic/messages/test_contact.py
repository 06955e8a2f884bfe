"""Who may be written to about what, and in which ways: the desk's doors, and an end to texts by link."""

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from clinic.messages.actions.choosing import choose_ways, end_texts, state_of
from clinic.messages.models import Call, DueMessage, Outcome, State, Why
from clinic.messages.sweep import sweep
from clinic.patients.contact import contact
from clinic.patients.models import Channel, ContactChoice, Patient, Purpose
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.messages.entering import known
from tests.clinic.messages.writing import CHECK, REMINDER, Planned, states
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")

MOBILE = "+447700900123"
# As the form stands before anybody has chosen anything; a test changes one thing.
STANDS = {"channel": "email", "appointment": "any", "safety": "any", "recall": "any", "colour": "no", "heard": "phone"}


@pytest.fixture
def desk(cast: Cast) -> Client:
    return sign_in(cast.desk)


@pytest.fixture
def patient(cast: Cast, settings: Settings) -> Patient:
    """With an e-mail address and a mobile, where texts can go out."""
    settings.SMS_URL = "json://127.0.0.1:9/"
    cast.patient.phone = MOBILE
    cast.patient.save(update_fields=["phone"])
    return cast.patient


def typed(patient: Patient, **values: str) -> dict[str, str]:
    held = Patient.objects.get(pk=patient.pk)
    return STANDS | {"seen": state_of(held, contact(held))} | values


def where(patient: Patient, name: str = "contact_choices") -> str:
    return reverse(name, args=[patient.pk])


def test_it_works(desk: Client, patient: Patient, planned: Planned) -> None:
    """What waits of a purpose that is switched off ends at once; what is about harm waits, to become a call."""
    reminder, check = planned(), planned(CHECK)
    page = desk.get(where(patient)).content.decode()
    assert "May we write about appointments?" in page
    answer = desk.post(where(patient), typed(patient, appointment="no", safety="no"))
    assert answer["Location"] == reverse("patient", args=[patient.pk])
    assert states() == [State.CANCELLED, State.DUE]
    proofs = ContactChoice.objects.order_by("purpose").values_list("purpose", "channel", "allowed", "chosen_by")
    assert list(proofs) == [("appointment", "", False, "Dana Popescu"), ("safety", "", False, "Dana Popescu")]
    assert ContactChoice.objects.get(purpose="appointment").wording == (
        "Write to me about my appointments. (On the telephone)"
    )
    assert TrailEntry.objects.filter(verb="patients.contact_chosen", subject_id=str(patient.pk)).count() == 1
    sweep(now=NOW)
    assert (Call.objects.get().message, Call.objects.get().why) == (check, Why.OPTED_OUT)
    reminder.refresh_from_db()
    assert reminder.reason == "the patient does not want such messages"
    shown = desk.get(reverse("patient", args=[patient.pk])).content.decode()
    assert "Last changed by" in shown


def test_what_was_left_as_it_stood_is_not_written_again(desk: Client, patient: Patient) -> None:
    desk.post(where(patient), typed(patient, recall="email"))
    assert list(ContactChoice.objects.values_list("purpose", "channel", "allowed")) == [("recall", "text", False)]
    with nothing_written():
        desk.post(where(patient), typed(patient, recall="email"))


@pytest.mark.parametrize("way", ["any", "email", "text", "no"])
@pytest.mark.parametrize("purpose", list(Purpose))
def test_each_purpose_and_each_way(patient: Patient, cast: Cast, purpose: Purpose, way: str) -> None:
    ways = {"any": {Channel.EMAIL, Channel.TEXT}, "email": {Channel.EMAIL}, "text": {Channel.TEXT}, "no": set()}
    before = contact(patient)
    wanted = {one: set(before.ways(one)) for one in Purpose} | {purpose: ways[way]}
    choose_ways(
        patient=patient,
        channel=Channel.EMAIL,
        ways=wanted,
        wordings=dict.fromkeys(Purpose, "said"),
        seen=state_of(patient, before),
        actor=actor_of(cast.desk),
        now=NOW,
    )
    assert {one: set(contact(patient).ways(one)) for one in Purpose} == wanted


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"heard": ""}, "Say how you know."),
        ({"channel": "letter"}, "There is no postal address."),
        ({"appointment": "sometimes"}, "Choose one from the list"),
        (
            {"channel": "text", "appointment": "email", "safety": "email", "recall": "no"},
            "All texts are ended for this patient.",
        ),
    ],
)
def test_refused_with_a_sentence(desk: Client, patient: Patient, change: dict[str, str], sentence: str) -> None:
    with nothing_written():
        answer = desk.post(where(patient), typed(patient, **change))
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_somebody_else_changed_it_meanwhile(desk: Client, patient: Patient, cast: Cast) -> None:
    old = typed(patient, appointment="no")
    end_texts(patient=patient, wording="No more texts", actor=actor_of(cast.desk), now=NOW)
    with nothing_written():
        answer = desk.post(where(patient), old)
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "were changed while you were typing" in page
    assert "by e-mail only, no texts" in page.split("What holds now")[1]


def test_other_site(patient: Patient, cast: Cast) -> None:
    client = sign_in(cast.elsewhere_desk)
    with nothing_written():
        assert client.post(where(patient), typed(patient, recall="no")).status_code == 404
        assert client.post(where(patient, "patient_texts")).status_code == 404


@pytest.mark.parametrize("has_email", [True, False])
def test_texts_end_by_one_tap(desk: Client, patient: Patient, planned: Planned, has_email: bool) -> None:
    """E-mail goes on; without it a message about harm becomes a call, and others end at once."""
    Patient.objects.filter(pk=patient.pk).update(channel="text", email="amara@example.org" if has_email else "")
    planned()
    planned(CHECK)
    desk.post(where(patient, "patient_texts"))
    assert contact(patient).texts_ended
    assert Patient.objects.get(pk=patient.pk).channel == ("email" if has_email else "text")
    assert states() == [State.DUE if has_email else State.CANCELLED, State.DUE]
    sweep(now=NOW)
    assert [one.to for one in mail.outbox] == ([["amara@example.org"]] * 2 if has_email else [])
    assert [call.why for call in Call.objects.all()] == ([] if has_email else [Why.OPTED_OUT])
    assert DueMessage.objects.filter(channel="text").count() == 0
    with nothing_written():
        desk.post(where(patient, "patient_texts"))
    page = desk.get(reverse("patient", args=[patient.pk])).content.decode()
    assert "Texts were ended;" in page
    desk.post(where(patient, "patient_texts"), {"back": "1"})
    assert not contact(patient).refused


def test_nobody_calls_about_what_is_not_wanted_any_more(desk: Client, patient: Patient, planned: Planned) -> None:
    """A question about harm is asked all the same."""
    Patient.objects.filter(pk=patient.pk).update(channel="phone")
    planned()
    planned(CHECK)
    sweep(now=NOW)
    assert [call.why for call in Call.objects.open()] == [Why.PREFERS, Why.PREFERS]
    answer = desk.post(where(patient), typed(patient, appointment="no", safety="no"))
    assert answer.status_code == 302
    assert {call.message.kind: (call.outcome, call.settled_by) for call in Call.objects.all()} == {
        REMINDER: (Outcome.UNWANTED, "Dana Popescu"),
        CHECK: ("", ""),
    }
    settled = TrailEntry.objects.get(verb="messages.call_settled")
    assert settled.actor_name == "Dana Popescu"


def test_whoever_ends_texts_only_is_still_called(desk: Client, patient: Patient, planned: Planned) -> None:
    Patient.objects.filter(pk=patient.pk).update(channel="phone")
    planned()
    sweep(now=NOW)
    desk.post(where(patient, "patient_texts"))
    assert Call.objects.open().count() == 1


def test_texts_end_by_link(address: str, phone: Client, patient: Patient) -> None:
    visitor = known(phone, address)
    assert "End texts" in visitor.get("/p/preferences/").content.decode()
    visitor.post("/p/preferences/", {"texts": "end"})
    said = contact(patient).texts
    assert said is not None
    assert (contact(patient).texts_ended, said.chosen_by, said.wording) == (
        True,
        "Amara Nwosu",
        "No more text messages",
    )
    with nothing_written():
        refused = visitor.post("/p/preferences/", {"channel": "text", "appointment": "on"})
    assert "You have ended texts." in refused.content.decode()
    visitor.post("/p/preferences/", {"texts": "allow"})
    assert not contact(patient).texts_ended
