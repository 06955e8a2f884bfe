"""The consent form as it is printed to be signed by hand: for one plan, and blank."""

from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.documents import archive, bundled, fonts
from tests.cast import Cast, sign_in
from tests.pdf import findings
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.consent import onpaper
from whitening.consent import wording

pytestmark = [pytest.mark.django_db]


@pytest.fixture(autouse=True)
def _at_signing(at_now: object) -> None:
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture
    if bundled.missing_files():
        fonts.build(bundled.FONTS_DIR)


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_for_one_plan(cast: Cast) -> None:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    course.examined(cast, case)
    course.planned(cast, case)
    course.talked(cast, case, interpreter="present", interpreter_name="Ngozi Eze", interpreter_language="Igbo")
    form = onpaper.printed(cast, case)
    pdf = archive.read(form.sha256)
    text = words_of(pdf)
    for element in wording.shipped()["en"][-1].elements:
        assert f"{element.number}. {element.heading}" in text, element.number
    for words in ("6 % hydrogen peroxide as used", "400.00 GBP", "Photographs may be used Yes No",
                  "Full name, in capitals", "I interpreted the talk and this text", form.grouped_code):  # fmt: skip
        assert words in text, words
    # Nothing is marked for the patient, and nothing looks as if it were signed.
    assert ("09:50" in text, "Signed by" in text) == (False, False)
    assert course.pen(case).seen_sha256 in text.replace(" ", "")
    assert text.count(onpaper.blank_mark()) == len(PdfReader(BytesIO(pdf)).pages) + 1
    assert findings(pdf) == []


def test_blank_and_in_large_print(cast: Cast) -> None:
    Site.objects.update(country="US")
    answer = sign_in(cast.desk).post(reverse("consent_blank"), {"large": "1"})
    text = words_of(answer.content)
    assert "A gel with ________________________ % hydrogen peroxide as used" in text
    assert "Fill in every gap together with the patient, from the plan." in text
    assert ("SHA-256" in text, "enter the code" in text) == (False, False)
    # On the foot of every page, and once among the words.
    assert text.count(onpaper.blank_mark()) == len(PdfReader(BytesIO(answer.content)).pages) + 1
    assert findings(answer.content) == []
