"""Recording the talk and the quote: who, when, with whose help, for how much."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.models import Case
from whitening.consent.models import Quote, Talk

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


@pytest.fixture
def case(cast: Cast) -> Case:
    case = chairs.a_case(cast)
    course.planned(cast, case)
    return case


@pytest.fixture
def dentist(cast: Cast) -> Client:
    return sign_in(cast.clinician)


def send(client: Client, case: Case, **changed: str) -> Answer:
    fields = {"can_decide": "yes", "interpreter": "none", "what_matters": "That it looks natural."}
    return client.post(reverse("consent_talk", args=[case.pk]), fields | changed)


def test_it_works(cast: Cast, case: Case, dentist: Client) -> None:
    answer = send(dentist, case, questions="Does it hurt? Often a little.", included="Two sessions.")
    assert answer["Location"] == reverse("consent", args=[case.pk])
    talk = Talk.objects.get()
    assert (talk.talked_by, talk.talked_at, talk.can_decide, talk.interpreter) == (cast.clinician, NOW, True, "none")
    quote = Quote.objects.get()
    assert (quote.amount, quote.currency, quote.included) == (Decimal(400), "GBP", "Two sessions.")
    assert quote.valid_until == date(2026, 6, 1)
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert "Talked through; the patient can sign now." in page
    assert "Cleo Haddad" in page
    assert "400.00 GBP" in page


@pytest.mark.parametrize("who", ["desk", "assistant", "hygienist", "manager"])
def test_wrong_role(cast: Cast, case: Case, who: str) -> None:
    client = sign_in(getattr(cast, who))
    with nothing_written():
        assert send(client, case).status_code == 403


def test_other_site(cast: Cast, case: Case) -> None:
    client = sign_in(cast.elsewhere)
    with nothing_written():
        assert send(client, case).status_code == 404
        assert client.get(reverse("consent", args=[case.pk])).status_code == 404


def test_wrong_method(case: Case, dentist: Client) -> None:
    with nothing_written():
        assert dentist.get(reverse("consent_talk", args=[case.pk])).status_code == 405


def test_looking_writes_nothing(case: Case, dentist: Client) -> None:
    with nothing_written():
        assert dentist.get(reverse("consent", args=[case.pk])).status_code == 200


def test_there_is_nothing_to_talk_about_without_a_plan(cast: Cast, dentist: Client) -> None:
    case = chairs.a_case(cast)
    with nothing_written():
        refused = send(dentist, case)
    assert refused.status_code == 409


INTERPRETER = {"interpreter_name": "Mina Okafor", "interpreter_language": "Igbo", "interpreter_service": "Fern Line"}


@pytest.mark.parametrize("kind", ["present", "phone", "relative"])
def test_an_interpreter_is_named(case: Case, dentist: Client, kind: str) -> None:
    assert send(dentist, case, interpreter=kind, **INTERPRETER).status_code == 302
    talk = Talk.objects.get()
    assert (talk.interpreter, talk.interpreter_name, talk.interpreter_language, talk.interpreter_service) == (
        kind, "Mina Okafor", "Igbo", "Fern Line",
    )  # fmt: skip
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    # A relative is a recorded caution, an interpreter by profession is none.
    assert ("mark-care" in page) is (kind == "relative")


@pytest.mark.parametrize("left_out", ["interpreter_name", "interpreter_language"])
def test_an_interpreter_without_name_or_language(case: Case, dentist: Client, left_out: str) -> None:
    with nothing_written():
        refused = send(dentist, case, interpreter="phone", **INTERPRETER | {left_out: ""})
    assert refused.status_code == 422
    assert "That it looks natural." in refused.content.decode()


@pytest.mark.parametrize("kind", ["present", "phone", "relative"])
def test_a_child_cannot_interpret(case: Case, dentist: Client, kind: str) -> None:
    with nothing_written():
        refused = send(dentist, case, interpreter=kind, interpreter_is_child="on", **INTERPRETER)
    assert refused.status_code == 409
    assert refused.content.decode().count("A child cannot interpret this.") == 1


def test_a_wish_for_an_interpreter_is_not_passed_over(cast: Cast, case: Case, dentist: Client) -> None:
    cast.patient.needs_interpreter, cast.patient.interpreter_language = True, "Igbo"
    cast.patient.save()
    with nothing_written():
        refused = send(dentist, case)
    assert refused.status_code == 409
    assert "This patient wants an interpreter." in refused.content.decode()
    assert send(dentist, case, interpreter="phone", **INTERPRETER).status_code == 302


def test_somebody_who_cannot_decide_does_not_sign(cast: Cast, case: Case, dentist: Client) -> None:
    send(dentist, case, can_decide="no")
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert "no: it cannot be signed" in page
    assert "Hand over the tablet" not in page
    phone = course.phone_of(cast, course.visit_of(cast, case))
    answer = phone.get(reverse("sign"))
    assert "The dentist has noted that this cannot be signed now." in answer.content.decode()
    # Another day, another talk.
    assert "Talk again, and record it" in page
    send(dentist, case)
    assert [talk.can_decide for talk in Talk.objects.order_by("pk")] == [False, True]


def test_talking_again_keeps_the_quote(case: Case, dentist: Client) -> None:
    send(dentist, case, included="Two sessions.")
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert 'name="included"' not in page
    send(dentist, case, included="Something else.")
    assert Quote.objects.get().included == "Two sessions."


@pytest.mark.parametrize("changed", [
    {"can_decide": ""}, {"can_decide": "maybe"}, {"interpreter": "robot"}, {"what_matters": "x" * 1001},
    {"questions": "\x00"}, {"included": "x" * 1001},
])  # fmt: skip
def test_bad_input_stays_on_the_page(case: Case, dentist: Client, changed: dict[str, str]) -> None:
    with nothing_written():
        refused = send(dentist, case, **{"redo_and_refund": "One free repair."} | changed)
    assert refused.status_code == 422
    assert "One free repair." in refused.content.decode()


def test_a_quote_that_has_run_out_is_not_signed(cast: Cast, case: Case) -> None:
    course.talked(cast, case, now=NOW - timedelta(days=91))
    phone = course.phone_of(cast, course.visit_of(cast, case))
    assert "The quote no longer holds." in phone.get(reverse("sign")).content.decode()


def test_another_language_without_a_checked_translation_is_said(cast: Cast, case: Case, dentist: Client) -> None:
    cast.patient.language = "de"
    cast.patient.save()
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert "No checked translation of the consent is here" in page


def test_what_was_signed_stays_talked_through_under_a_plan_that_needs_no_new_signature(
    cast: Cast, dentist: Client
) -> None:
    case = course.ready_to_sign(cast)
    course.signed(cast, case)
    course.planned(cast, case, cycles_per_session=3)
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    facts = page.split('<dl class="facts">')[1].split("</dl>")[0]
    for said in ("<dt>Talked through</dt>", "That it looks natural.", "<dt>Quote</dt>", "<dt>Signed</dt>"):
        assert said in facts
    # More than was agreed to was not talked through.
    course.planned(cast, case, cycles_per_session=5)
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert "It needs a new signature" in page
    assert "<dt>Talked through</dt>" not in page
