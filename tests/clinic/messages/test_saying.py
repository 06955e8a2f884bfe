"""Which messages a patient got, as staff read it: on the patient's page, on the whole list, on a visit's page."""

import ast
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from clinic.diary.models import Booking
from clinic.messages import kinds, saying
from clinic.messages.models import Call, DueMessage, Outcome, State, Why
from clinic.messages.words import clinical_words
from clinic.patients.models import Channel, Patient
from tests.cast import NOW, Cast, sign_in
from tests.clinic.messages.writing import later
from tests.support import nothing_written
from tests.whitening.casebook import lived

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


def a_message(cast: Cast, *, number: int = 1, **values: Any) -> DueMessage:
    given: dict[str, Any] = {
        "site": cast.fernbrook,
        "patient": cast.patient,
        "subject_kind": "booking",
        "subject_id": number,
        "kind": "visit_confirmed",
        "due_at": NOW,
        "not_after": later(days=2),
        "planned_at": NOW,
    }
    return DueMessage.objects.create(**given | values)


def said(message: DueMessage) -> str:
    [line] = saying.lines(saying.about(message.subject))
    return str(line.state)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"state": State.PLANNED}, "planned"),
        (
            {"state": State.DUE, "reason": "waits: no more than one message a day and three a week"},
            "planned: waits, as",
        ),
        ({"state": State.HANDED_OVER, "channel": "email"}, "sent"),
        ({"state": State.DELIVERED, "channel": "email"}, "delivered"),
        ({"state": State.UNCERTAIN}, "may have gone out: nobody knows for certain"),
        ({"state": State.MISSED, "reason": "too late to send"}, "not sent: it would have come too late"),
        ({"state": State.CANCELLED, "reason": "the patient has died"}, "not sent: the patient was noted as died"),
        ({"state": State.CANCELLED, "reason": "words of an older program"}, "not sent"),
        ({"state": State.FAILED, "reason": "the mail server refused it (550)"}, "could not be sent: the mail server"),
        ({"state": State.BOUNCED}, "came back"),
    ],
)
def test_each_state_in_plain_words(cast: Cast, values: dict[str, Any], words: str) -> None:
    message = a_message(cast, settled_at=None, **values)
    assert said(message).startswith(words)
    assert "(550)" in said(message) or "550" not in str(values)


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        ("", "a call to make: mail to the address comes back"),
        (Outcome.REACHED, "a call instead: reached"),
        (Outcome.OVER, "not made: over by itself"),
    ],
)
def test_a_call_that_stands_in_for_it(cast: Cast, outcome: str, words: str) -> None:
    message = a_message(cast, state=State.BOUNCED)
    Call.objects.create(
        site=cast.fernbrook,
        patient=cast.patient,
        message=message,
        why=Why.BOUNCED,
        wanted_at=NOW,
        outcome=outcome,
        settled_at=NOW if outcome else None,
    )
    [line] = saying.lines(saying.about(message.subject))
    assert (str(line.state), line.is_astray) == (words, not outcome)


def test_the_patients_page_shows_the_latest(cast: Cast, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    desk = sign_in(cast.desk)
    page = reverse("patient", args=[cast.patient.pk])
    assert "Nothing has been written to this patient" in desk.get(page).content.decode()
    counts = []
    for number in range(1, 8):
        a_message(cast, number=number, state=State.HANDED_OVER, channel=Channel.EMAIL, due_at=later(hours=-number))
        with django_assert_num_queries(2):
            assert len(saying.lines(saying.of_patient(cast.patient))) == number
        counts.append(desk.get(page).content.decode().count("Visit confirmed · e-mail"))
    assert counts == [1, 2, 3, 4, 5, 5, 5]
    assert reverse("patient_messages", args=[cast.patient.pk]) in desk.get(page).content.decode()


def test_all_of_them_page_by_page(cast: Cast) -> None:
    for number in range(1, 54):
        a_message(cast, number=number, due_at=later(minutes=-number), state=State.HANDED_OVER)
    desk = sign_in(cast.desk)
    where = reverse("patient_messages", args=[cast.patient.pk])
    shown = [len(desk.get(where, {"page": page}).context["lines"]) for page in (1, 2)]
    assert shown == [50, 3]


def test_a_merged_row_counts_as_theirs_and_a_colleague_does_not(cast: Cast) -> None:
    Patient.objects.filter(pk=cast.teenager.pk).update(merged_into=cast.patient, merged_at=NOW)
    theirs = a_message(cast, patient=cast.teenager)
    a_message(cast, number=2, kind="on_call_alert", subject_kind="escalation")
    assert list(saying.of_patient(cast.patient)) == [theirs]


def test_the_visits_own_page(cast: Cast) -> None:
    case = lived.agreed(cast)
    assert case.session is not None
    booking: Booking = lived.fresh(case.session)
    shown = sign_in(cast.desk).get(reverse("booking", args=[booking.pk])).content.decode()
    part = shown.split("Messages about this visit")[1].split("</section>")[0]
    assert "Visit confirmed" in part
    assert len(saying.about(("booking", booking.pk))) == part.count("<li")


def test_no_name_of_a_kind_is_clinical() -> None:
    labels = [str(kind.label) for kind in kinds.registered().values() if kind.recipient is None]
    assert len(labels) > 10
    # The desk hands the aftercare sheet over itself.
    assert {word for label in labels for word in clinical_words(label, "en")} <= {"aftercare"}


def test_every_reason_that_is_written_down_has_its_words() -> None:
    root = Path(settings.BASE_DIR)
    files = (root / "clinic/messages").glob("*.py")
    found = {word for file in files for word in _reasons(ast.parse(file.read_text()))}
    assert len(found) > 10
    assert found - set(saying._BECAUSE) - KEPT_FROM_STAFF == set()


def test_every_reason_of_a_kind_has_its_words() -> None:
    """What `still_wanted` says instead of yes: it stands beside the message, and on the page of an answer."""
    root = Path(settings.BASE_DIR)
    files = [file for room in ("clinic", "whitening") for file in (root / room).rglob("*.py")]
    found = {word for file in files for word in _unwanted_because(ast.parse(file.read_text()))}
    assert {"taken already", "booked already", "changed since", "not on offer any more"} <= found
    assert found - set(saying._BECAUSE) == set()


def _unwanted_because(tree: ast.AST) -> list[str]:
    rules = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) and node.returns is not None and ast.unparse(node.returns) in WANTED
    ]
    said = [node.value for rule in rules for node in ast.walk(rule) if isinstance(node, ast.Return) and node.value]
    parts = [part for value in said for part in ast.walk(value) if not isinstance(value, ast.Call)]
    return [part.value for part in parts if isinstance(part, ast.Constant) and isinstance(part.value, str)]


WANTED = {"Wanted", "kinds.Wanted"}


# They say that the program or its settings are wrong: staff read "not sent", and the log says more.
KEPT_FROM_STAFF = {
    "nobody knows this kind of message any more",
    "what it was about is gone",
    "there is nothing left to open a page for",
    "for a person to do",
}


GIVEN_TO = {"Drop", "Wait", "missed", "_unwanted", "_later"}


def _reasons(tree: ast.AST) -> list[str]:
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]
    given = [
        part
        for call in calls
        if isinstance(call.func, ast.Name) and call.func.id in GIVEN_TO
        for part in (*call.args, *(word.value for word in call.keywords if word.arg == "reason"))
    ]
    return [part.value for part in given if isinstance(part, ast.Constant) and isinstance(part.value, str)]


def test_other_site(cast: Cast) -> None:
    client, where = sign_in(cast.elsewhere_desk), reverse("patient_messages", args=[cast.patient.pk])
    with nothing_written():
        assert client.get(where).status_code == 404
