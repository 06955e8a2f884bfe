"""Codes, kinds, paper and directions: small decisions, tested directly."""

import pytest
from django.utils.translation import gettext_lazy
from hypothesis import given
from hypothesis import strategies as st

from clinic.documents import codes, kinds, paper
from clinic.documents.templatetags.sheets import direction_of

CODES = st.text(alphabet=codes.ALPHABET, min_size=codes.LENGTH, max_size=codes.LENGTH)


def test_a_new_code_is_hard_to_guess() -> None:
    made = {codes.new() for _ in range(1000)}
    assert len(made) == 1000
    assert all(len(code) == 20 and set(code) <= set(codes.ALPHABET) for code in made)
    assert len(codes.ALPHABET) ** codes.LENGTH >= 2**80


@given(CODES)
def test_a_code_is_read_as_people_write_it(code: str) -> None:
    shown = codes.grouped(code)
    assert len(shown) == 23
    assert codes.read(shown) == code
    assert codes.read(shown.lower().replace("-", " ").replace("0", "o").replace("1", "l")) == code


@given(st.text(max_size=60))
def test_anything_else_is_no_code(typed: str) -> None:
    assert codes.read(typed) in {"", codes.read(codes.read(typed))}


@given(CODES)
def test_the_identifier_of_a_file_follows_from_its_code(code: str) -> None:
    assert len(codes.file_identifier(code)) == 32
    assert codes.file_identifier(code) == codes.file_identifier(code)


@pytest.mark.parametrize(
    ("country", "expected"), [("GB", "a4"), ("DE", "a4"), ("US", "us-letter"), ("CA", "us-letter"), ("MX", "us-letter")]
)
def test_paper_by_country(country: str, expected: str) -> None:
    """Source: Unicode CLDR, supplemental measurement data; from memory, unverified."""
    assert paper.for_country(country) == expected


@pytest.mark.parametrize(
    ("text", "direction"),
    [("1 Fernbrook Street", "ltr"), ("٣ شارع النيل", "rtl"), ("12, שדרות", "rtl"), ("", "ltr"), ("12 - 3", "ltr")],
)
def test_direction_of(text: str, direction: str) -> None:
    assert direction_of(text) == direction


def kind(code: str, *, version: int = 1, clinical: bool = False) -> kinds.DocumentKind:
    return kinds.DocumentKind(
        code=code, word=gettext_lazy("paper"), clinical=clinical, template="documents/x.html", version=version
    )


def test_a_kind_is_registered_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kinds, "_kinds", {})
    one = kind("test_sheet")
    kinds.register(one)
    kinds.register(one)
    assert kinds.get("test_sheet") is one
    with pytest.raises(ValueError, match="twice"):
        kinds.register(kind("test_sheet", clinical=True))


@pytest.mark.parametrize("wrong", [kind("Bad Code"), kind("x"), kind("good_code", version=0)])
def test_a_badly_made_kind_is_refused(monkeypatch: pytest.MonkeyPatch, wrong: kinds.DocumentKind) -> None:
    monkeypatch.setattr(kinds, "_kinds", {})
    with pytest.raises(ValueError, match="use a lower-case code"):
        kinds.register(wrong)


def test_an_unknown_kind_counts_as_clinical() -> None:
    assert kinds.is_clinical("gone_since")
    assert not kinds.is_clinical("appointment_slip")
    with pytest.raises(kinds.UnknownKind):
        kinds.get("gone_since")
