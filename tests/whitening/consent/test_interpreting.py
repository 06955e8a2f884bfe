"""Where somebody interpreted, the interpreter signs too; without that the consent is not complete."""

import json
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.consent import onpaper
from whitening.casebook.gates import GateFacts, consent
from whitening.cases.models import Case
from whitening.consent.actions import (
    InterpreterCannotSign,
    InterpreterFirst,
    InterpreterInput,
    InterpreterSigned,
    InterpretsForThemselves,
    NobodyInterpreted,
    countersign,
    interpreter_signs,
    text_to_interpret,
)
from whitening.consent.models import ConsentText, InterpreterSignature, Signature
from whitening.consent.reading import standing
from whitening.consent.sealing import seal
from whitening.consent.seals import is_unaltered, sealed_interpreter

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("quick_paper")]


@pytest.fixture(autouse=True)
def _at_signing(at_now: object) -> None:
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture


def talked_with(cast: Cast, kind: str) -> Case:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case)
    course.planned(cast, case)
    course.talked(cast, case, interpreter=kind, interpreter_name="Ngozi Eze", interpreter_language="Igbo")
    return case


@pytest.fixture
def case(cast: Cast) -> Case:
    return talked_with(cast, "present")


def address(case: Case) -> str:
    return reverse("consent_interpreter", args=[case.pk])


def send(client: Client, case: Case, **changed: str) -> Answer:
    text = text_to_interpret(case=case, now=course.SIGNED_AT)
    fields = {
        "seen_sha256": text.sha256 if text else "",
        "declared": "on",
        "name": "Ngozi Eze",
        "strokes": json.dumps(course.STROKES),
    }
    return client.post(address(case), {name: value for name, value in (fields | changed).items() if value})


def signs(cast: Cast, case: Case, **changed: Any) -> InterpreterSignature:
    text = text_to_interpret(case=case, now=course.SIGNED_AT)
    fields: dict[str, Any] = {
        "name": "Ngozi Eze",
        "declared": True,
        "seen_sha256": text.sha256 if text else "",
        "strokes": course.STROKES,
    }
    return interpreter_signs(
        case=case,
        given=InterpreterInput(**fields | changed),
        user=cast.assistant,
        actor=actor_of(cast.assistant),
        now=course.SIGNED_AT,
    )


def test_it_works_before_the_patient_signs(cast: Cast, case: Case) -> None:
    assistant = sign_in(cast.assistant)
    page = assistant.get(address(case)).content.decode()
    assert "I interpreted the talk and this text into Igbo and back" in page
    assert send(assistant, case)["Location"] == reverse("consent", args=[case.pk])
    row = InterpreterSignature.objects.get()
    assert (row.method, row.signer_name, row.language, row.strokes) == ("strokes", "Ngozi Eze", "Igbo", course.STROKES)
    assert row.sha256 == seal(sealed_interpreter(row))
    signature = course.signed(cast, case)
    assert signature.text == row.text
    course.countersigned(cast, case)
    assert standing(case).agreed
    page = sign_in(cast.clinician).get(reverse("consent", args=[case.pk])).content.decode()
    assert "Interpreter signed" in page


def test_without_it_the_consent_is_not_complete(cast: Cast, case: Case) -> None:
    course.signed(cast, case)
    held = standing(case)
    assert (held.signed_this_plan, held.lacks_interpreter, held.agreed) == (True, True, False)
    with nothing_written(), pytest.raises(InterpreterFirst):
        countersign(case=case, user=cast.clinician, actor=actor_of(cast.clinician), now=course.SIGNED_AT)
    dentist = sign_in(cast.clinician)
    with nothing_written():
        assert dentist.post(reverse("consent_countersign", args=[case.pk])).status_code == 409
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert "Signed; the interpreter has not signed yet." in page
    assert reverse("consent_countersign", args=[case.pk]) not in page
    # Afterwards, under the very words that the patient signed.
    assert send(dentist, case).status_code == 302
    course.countersigned(cast, case)
    assert standing(case).agreed


def test_the_gate_says_so() -> None:
    day = course.SIGNED_AT.date()
    facts = GateFacts(today=day, signed_this_plan=True, signed_on=day, interpreter_missing=True)
    gate = consent(facts)
    assert (gate.is_shut, [str(one) for one in gate.says]) == (True, ["The interpreter has not signed"])


def test_by_typing(cast: Cast, case: Case) -> None:
    row = signs(cast, case, typed=True)
    assert (row.method, row.strokes) == ("typed", [])


def test_on_the_telephone_somebody_hears_it(cast: Cast) -> None:
    case = talked_with(cast, "phone")
    assistant = sign_in(cast.assistant)
    page = assistant.get(address(case)).content.decode()
    assert ("data-signature" in page, "On the telephone the interpreter said" in page) == (False, True)
    assert send(assistant, case, strokes="").status_code == 302
    row = InterpreterSignature.objects.get()
    assert (row.method, row.heard_by, row.strokes) == ("heard", cast.assistant, [])


@pytest.mark.parametrize(("changed", "status"), [
    ({"name": ""}, 422),
    ({"declared": ""}, 422),
    ({"strokes": ""}, 409),
    ({"strokes": "[[[500,150,0]]]"}, 409),
    ({"strokes": "{"}, 422),
    ({"seen_sha256": "0" * 64}, 409),
])  # fmt: skip
def test_refusals(cast: Cast, case: Case, changed: dict[str, str], status: int) -> None:
    assistant = sign_in(cast.assistant)
    with nothing_written():
        assert send(assistant, case, **changed).status_code == status


def test_refused_by_the_action(cast: Cast, case: Case) -> None:
    wrong: list[dict[str, Any]] = [{"name": " "}, {"declared": False}, {"strokes": []}, {"seen_sha256": "0" * 64}]
    for changed in wrong:
        with nothing_written(), pytest.raises(InterpreterCannotSign):
            signs(cast, case, **changed)
    signs(cast, case)
    with nothing_written(), pytest.raises(InterpreterSigned):
        signs(cast, case)


def test_nobody_interpreted(cast: Cast) -> None:
    case = course.ready_to_sign(cast)
    assistant = sign_in(cast.assistant)
    with nothing_written():
        assert "No talk with an interpreter" in assistant.get(address(case)).content.decode()
        assert send(assistant, case).status_code == 409
    with nothing_written(), pytest.raises(NobodyInterpreted):
        signs(cast, case)


@pytest.mark.parametrize("who", ["desk", "manager"])
def test_wrong_role(cast: Cast, case: Case, who: str) -> None:
    client = sign_in(getattr(cast, who))
    with nothing_written():
        assert send(client, case).status_code == 403


def test_beside_the_patient_on_paper(cast: Cast, case: Case) -> None:
    reading = onpaper.written_down(cast, case, what=onpaper.said(None, interpreter_signed=True))
    signature = onpaper.compared(cast, reading)
    assert signature is not None
    row = InterpreterSignature.objects.get()
    assert (row.method, row.reading, row.signer_name) == ("paper", reading, "Ngozi Eze")
    assert is_unaltered(Signature.objects.get(pk=signature.pk))
    course.countersigned(cast, case)
    assert standing(case).agreed


def test_missing_on_paper(cast: Cast, case: Case) -> None:
    onpaper.compared(cast, onpaper.written_down(cast, case, what=onpaper.said(None)))
    assert standing(case).lacks_interpreter
    signs(cast, case)
    assert not standing(case).lacks_interpreter


def test_each_thing_is_under_the_seal(cast: Cast, case: Case) -> None:
    signs(cast, case)
    signature = course.signed(cast, case)
    row = signature.text.interpreter_signature
    changes: dict[str, object] = {
        "signer_name": "Ngozi Ezes", "language": "Yoruba", "strokes": [], "method": "typed", "zone": "UTC",
    }  # fmt: skip
    for field, value in changes.items():
        assert is_unaltered(signature), field
        kept = getattr(row, field)
        setattr(row, field, value)
        assert not is_unaltered(signature), field
        setattr(row, field, kept)


def test_the_database_refuses_too(cast: Cast, case: Case) -> None:
    text = text_to_interpret(case=case, now=course.SIGNED_AT)
    assert isinstance(text, ConsentText)
    text.save()
    fields: dict[str, Any] = {
        "text": text, "language": "Igbo", "zone": "UTC", "signed_at": course.SIGNED_AT, "sha256": "0" * 64,
    }  # fmt: skip
    for wrong in ({"method": "heard"}, {"method": "paper"}, {"method": "typed", "heard_by": cast.desk}):
        with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
            InterpreterSignature.objects.create(signer_name="Ngozi Eze", **fields | wrong)


def test_the_patient_does_not_interpret_for_themselves(cast: Cast, case: Case) -> None:
    with nothing_written(), pytest.raises(InterpretsForThemselves, match="the patient's own name"):
        course.talked(cast, case, interpreter="present", interpreter_name="NWOSU, Amara", interpreter_language="Igbo")
    with nothing_written(), pytest.raises(InterpreterCannotSign, match="the patient's own name"):
        signs(cast, case, name="amara nwosu")
