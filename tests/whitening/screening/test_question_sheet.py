"""The questions on paper: all that are asked at home, in their order, with boxes, and nothing asked in private."""

from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.documents.client import POOL
from clinic.documents.failures import RenderFailed
from clinic.documents.models import IssuedDocument
from clinic.trail.models import TrailEntry
from tests.cast import Cast, sign_in
from tests.pdf import findings
from tests.support import nothing_written, stored_files
from tests.whitening.chairside import chairs
from whitening.screening.question_sheet import lines
from whitening.screening.questions import questionnaire, read_questionnaire

FILE = {
    "version": "7",
    "medicines": {"kind": "list", "text": "Which medicines?"},
    "hidden": {"kind": "yes_no", "text": "Asked alone?", "private": True},
    "illnesses": {
        "kind": "several",
        "text": "Any of these?",
        "choices": [{"value": "fits", "text": "Fits"}, {"value": "sugar", "text": "Diabetes"}],
    },
    "last_fit_on": {"kind": "date", "text": "When?", "asked_when": {"illnesses": ["fits", "sugar"]}},
    "score": {"kind": "number", "text": "How much?"},
    "gums": {"kind": "yes_no_unsure", "text": "Bleeding?"},
}


def test_numbered_in_their_order_without_what_is_asked_alone() -> None:
    found = lines(read_questionnaire(FILE))
    assert [(one.number, one.text) for one in found] == [
        (1, "Which medicines?"),
        (2, "Any of these?"),
        (3, "When?"),
        (4, "How much?"),
        (5, "Bleeding?"),
    ]


def test_each_has_its_own_boxes() -> None:
    boxes = {one.text: list(one.boxes) for one in lines(read_questionnaire(FILE))}
    assert boxes == {
        "Which medicines?": ["None"],
        "Any of these?": ["Fits", "Diabetes", "I am not sure", "None of these"],
        "When?": [],
        "How much?": [str(score) for score in range(11)],
        "Bleeding?": ["Yes", "No", "I am not sure"],
    }


def test_what_is_asked_only_after_an_answer_says_so() -> None:
    only_if = {one.number: one.only_if for one in lines(read_questionnaire(FILE)) if one.only_if}
    assert only_if == {3: "Only if you ticked “Fits” or “Diabetes” at 2."}


def test_the_real_list_is_whole() -> None:
    asked = [one for one in questionnaire().questions if not one.private]
    assert [one.text for one in lines()] == [str(one.text) for one in asked]
    assert len(asked) < len(questionnaire().questions)


@pytest.mark.django_db
class TestThePaper:
    def test_for_one_patient(self, cast: Cast) -> None:
        """In large print on Letter; in small print on A4 they are part of the downtime pack."""
        Site.objects.update(country="US")
        case, desk, files = chairs.a_case(cast), sign_in(cast.desk), stored_files()
        address = reverse("question_sheet", args=[case.pk])
        assert address in desk.get(reverse("case", args=[case.pk])).content.decode()
        page = desk.post(address, {"large": "1"})
        assert (page["Content-Type"], findings(page.content)) == ("application/pdf", [])
        pages = [one.extract_text() for one in PdfReader(BytesIO(page.content)).pages]
        assert all("Amara Nwosu" in one for one in pages)
        text = " ".join(" ".join(pages).split())
        for line in lines():
            assert " ".join(f"{line.number}. {line.text}".split()) in text, line.number
        entry = TrailEntry.objects.get(verb="documents.printed")
        assert (entry.subject_kind, entry.subject_id, entry.patient_id) == ("case", str(case.pk), cast.patient.pk)
        assert (stored_files(), IssuedDocument.objects.exists()) == (files, False)

    def test_what_cannot_be_drawn_leaves_nothing(self, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
        def failing(_job: object) -> None:
            raise RenderFailed("busy")

        case, desk = chairs.a_case(cast), sign_in(cast.desk)
        monkeypatch.setattr(POOL, "draw", failing)
        with nothing_written():
            page = desk.post(reverse("question_sheet", args=[case.pk]), follow=True)
        assert "could not be made (busy)" in page.content.decode()
