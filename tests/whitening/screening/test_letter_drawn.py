"""The letter to a doctor or specialist as a paper: the question, what is planned, and nothing that is not needed."""

from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from clinic.documents import archive, bundled, fonts
from tests.cast import NOW, Cast, actor_of
from tests.pdf import findings
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.models import Isolation, PlannedLight
from whitening.screening.actions import LetterDetails, write_letter
from whitening.screening.letters import planned_words

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


def test_it_works(cast: Cast) -> None:
    if bundled.missing_files():
        fonts.build(bundled.FONTS_DIR)
    case = chairs.a_case(cast)
    course.answered(cast, case, porphyria="yes", medicines=("ibuprofen",))
    details = LetterDetails(
        rule="LGT-02",
        addressee="Dr Ilse Aumann\nSkin Clinic, Fernbrook",
        question="May blue light come near her gums?",
        planned=planned_words(None),
        patient_agrees=True,
    )
    letter = write_letter(case=case, details=details, user=cast.clinician, actor=actor_of(cast.clinician), now=NOW)
    pdf = archive.read(letter.document.sha256)
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())
    for words in ("Dr Ilse Aumann", "Amara Nwosu, born 17 May 1990", "May blue light come near her gums?",
                  "Nothing is planned before your answer.", "Cleo Haddad, dentist", "Tue 3 Mar 2026"):  # fmt: skip
        assert words in text, words
    for unneeded in ("ibuprofen", "LGT-02", "A shade or two lighter", "amara@example.org"):
        assert unneeded not in text, unneeded
    assert findings(pdf) == []


@pytest.mark.parametrize(("changed", "words"), [
    ({}, ["1 session: a gel with 6 % hydrogen peroxide as used", "up to 4 times for 15 minutes",
          "No whitening light is used.", "methacrylate resin, hardened with blue light"]),
    ({"sessions": 2, "light": PlannedLight.HAND_HELD, "isolation": Isolation.RESIN_FREE},
     ["2 sessions: in each", "A blue whitening light is used", "covered without resin"]),
])  # fmt: skip
def test_what_is_planned(cast: Cast, changed: dict[str, Any], words: list[str]) -> None:
    plan = chairs.a_plan(cast, chairs.a_case(cast), **{"sessions": 1, "light": PlannedLight.NONE} | changed)
    said = planned_words(plan)
    assert [one for one in words if one not in said] == []
