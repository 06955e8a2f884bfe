"""The quote as a paper, and a deposit that is only recorded."""

from decimal import Decimal
from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.documents.models import IssuedDocument
from clinic.messages.models import DueMessage
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.pdf import findings
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.consent.seed import case_of, patient_of
from whitening.cases.actions import close_case
from whitening.cases.models import Case, CloseReason
from whitening.consent.models import Deposit
from whitening.consent.quotes import held_of

pytestmark = pytest.mark.django_db
OWN = "/p/quote/"
TERMS = {
    "included": "Both sessions and one review.",
    "not_included": "New fillings.",
    "redo_and_refund": "A third session within a month is free.",
}


@pytest.fixture
def case(cast: Cast, at_now: object) -> Case:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case)
    course.planned(cast, case, sessions=2)
    course.talked(cast, case, now=NOW, **TERMS)
    return case


@pytest.fixture
def desk(cast: Cast, case: Case) -> Client:
    return sign_in(cast.desk)


def words_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


class TestThePaper:
    @pytest.mark.parametrize(("country", "large"), [("GB", False), ("US", True)])
    def test_it_works(self, case: Case, desk: Client, country: str, large: bool) -> None:
        Site.objects.update(country=country)
        address = reverse("quote_paper", args=[case.pk])
        assert f'action="{address}"' in desk.get(reverse("quote", args=[case.pk])).content.decode()
        page = desk.post(address, {"large": "1"} if large else {})
        assert (page.status_code, page["Content-Type"], findings(page.content)) == (200, "application/pdf", [])
        text = words_of(page.content)
        for said in (
            "400.00 GBP", "Whitening of the upper and the lower teeth", "2 sessions: in each", *TERMS.values(),
            "Valid until Mon 1 Jun 2026", "Given by Cleo Haddad, Tue 3 Mar 2026", "a quote, not a bill",
            "usually not covered by insurance", "does not replace it",
        ):  # fmt: skip
            assert said in text, said
        document = IssuedDocument.objects.get()
        assert (document.kind, document.large_print, document.is_clinical) == ("quote", large, False)

    def test_it_is_drawn_once(self, case: Case, desk: Client, quick_paper: None) -> None:
        address = reverse("quote_paper", args=[case.pk])
        first = desk.post(address).content
        with nothing_written():
            assert desk.post(address).content == first
        large = desk.post(reverse("document_larger", args=[IssuedDocument.objects.get().pk]))
        assert large.content != first

    def test_the_patient_opens_it_and_nobody_else_does(self, cast: Cast, case: Case, quick_paper: None) -> None:
        booking = course.visit_of(cast, case)
        phone = course.phone_of(cast, booking)
        assert f'href="{OWN}"' in phone.get(reverse("before_visit")).content.decode()
        with nothing_written():
            assert "Valid until Mon 1 Jun 2026" in phone.get(OWN).content.decode()
        assert phone.post(OWN)["Content-Type"] == "application/pdf"
        other = case_of(cast, patient_of(cast, "Marek Dvořák", NOW), NOW)
        stranger = course.phone_of(cast, course.visit_of(cast, other, patient=other.patient))
        no_code = course.phone_of(cast, booking, code_passed=False)
        with nothing_written():
            assert stranger.post(OWN).status_code == 404
            assert no_code.post(OWN)["Location"] == reverse("private_code")

    def test_without_a_quote_there_is_no_paper(self, cast: Cast, at_now: object) -> None:
        case, desk = chairs.a_case(cast), sign_in(cast.desk)
        page = desk.get(reverse("quote", args=[case.pk])).content.decode()
        assert ("There is no quote yet." in page, "Record it" in page) == (True, False)
        with nothing_written():
            assert desk.post(reverse("quote_paper", args=[case.pk])).status_code == 404
            assert record(desk, case, "asked", "50").status_code == 409


def record(desk: Client, case: Case, step: str, amount: str, words: str = "") -> Answer:
    return desk.post(reverse("deposit", args=[case.pk]), {"step": step, "amount": amount, "words": words})


class TestADeposit:
    def test_it_is_recorded_and_nothing_more(self, case: Case, desk: Client) -> None:
        messages = DueMessage.objects.count()
        for step, amount in (("asked", "100"), ("received", "100.00"), ("returned", "30.50")):
            assert record(desk, case, step, amount)["Location"] == reverse("quote", args=[case.pk])
        assert held_of(case, currency="GBP") == Decimal("69.50")
        page = " ".join(desk.get(reverse("quote", args=[case.pk])).content.decode().split())
        assert "100.00 GBP received" in page
        assert "Held now: <strong>69.50 GBP</strong>" in page
        assert TrailEntry.objects.filter(verb="consent.deposit_recorded").count() == 3
        assert DueMessage.objects.count() == messages

    @pytest.mark.parametrize(
        ("said", "status", "sentence"),
        [
            (("kept", "20", ""), 409, "Write why the deposit is kept."),
            (("kept", "20", "  "), 409, "Write why the deposit is kept."),
            (("returned", "50.01", ""), 409, "Only 50.00 GBP of the deposit is held."),
            (("kept", "51", "Did not come."), 409, "Only 50.00 GBP of the deposit is held."),
            (("received", "0", ""), 422, "Enter an amount above nothing."),
            (("received", "-5", ""), 422, "Enter an amount above nothing."),
            (("received", "12.345", ""), 422, "decimal places"),
            (("given", "5", ""), 422, "data-focus-errors"),
        ],
    )
    def test_refused(self, case: Case, desk: Client, said: tuple[str, str, str], status: int, sentence: str) -> None:
        record(desk, case, "received", "50")
        with nothing_written():
            page = record(desk, case, *said)
        assert (page.status_code, sentence in page.content.decode()) == (status, True)

    def test_money_goes_back_under_another_plan_and_after_the_case(self, cast: Cast, case: Case, desk: Client) -> None:
        record(desk, case, "received", "50")
        course.planned(cast, case, cycles_per_session=3)
        close_case(
            case=case, reason=CloseReason.PATIENT_DECIDED_AGAINST, words="",
            actor=actor_of(cast.desk), now=NOW,
        )  # fmt: skip
        assert record(desk, case, "returned", "50").status_code == 302
        assert Deposit.objects.count() == 2

    def test_who_may_not_record_sees_what_was(self, cast: Cast, case: Case, desk: Client) -> None:
        record(desk, case, "received", "50")
        page = sign_in(cast.manager).get(reverse("quote", args=[case.pk])).content.decode()
        assert ("50.00 GBP received" in page, "Record it" in page) == (True, False)
