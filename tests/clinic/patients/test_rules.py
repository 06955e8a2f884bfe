"""Coming of age, folding, slips of the finger, and who may be the same person."""

import unicodedata
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.patients.rules import (
    Identity,
    Sameness,
    adult_on,
    age_on,
    digits,
    folded,
    has_a_letter,
    name_score,
    same_person,
    search_keys,
    slip_keys,
    slips_allowed,
    word_distance,
)

births = st.dates(date(1900, 1, 1), date(2100, 12, 31))


@pytest.mark.parametrize(
    ("birth_on", "adult"),
    [
        (date(2008, 8, 12), date(2026, 8, 12)),
        (date(2009, 1, 1), date(2027, 1, 1)),
        (date(2008, 12, 31), date(2026, 12, 31)),
        # 2026 has no 29 February. Which day counts then differs by country; the later one is the cautious one.
        (date(2008, 2, 29), date(2026, 3, 1)),
        # 2082 + 18 = 2100, which is no leap year although 2096 was.
        (date(2084, 2, 29), date(2102, 3, 1)),
        (date(2008, 2, 28), date(2026, 2, 28)),
    ],
)
def test_coming_of_age(birth_on: date, adult: date) -> None:
    assert adult_on(birth_on) == adult


@given(births)
def test_seventeen_until_that_day(birth_on: date) -> None:
    assert age_on(adult_on(birth_on), birth_on) == 18
    assert age_on(adult_on(birth_on) - timedelta(days=1), birth_on) == 17


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("Łukasz", "lukasz"),
        ("Müller", "muller"),
        ("Müller-Łukasz", "muller lukasz"),
        ("O'Brien", "obrien"),
        ("O’Brien", "obrien"),
        ("Straße", "strasse"),
        ("Søren Óskarsson", "soren oskarsson"),
        ("Œdipe Æbelø", "oedipe aebelo"),
        # Turkish: dotted capital and dotless small I are found by whoever types plain letters.
        ("İbrahim Çağlar", "ibrahim caglar"),
        ("ışık", "isik"),
        ("IŞIK", "isik"),
        # Arabic: vowel signs, the hamza on its carrier and the lengthening stroke are often left out.
        ("مُحَمَّد", "محمد"),
        ("أحمد", "احمد"),
        ("محـــمد", "محمد"),
        ("Nguyễn Văn Ánh", "nguyen van anh"),
        ("  Ana   Sofía ", "ana sofia"),
        ("😀 Mia 😀", "mia"),
        ("", ""),
        ("😀", ""),
    ],
)
def test_folding(text: str, plain: str) -> None:
    assert folded(text) == plain


@given(st.text(max_size=60))
def test_folding_twice_changes_nothing_more(text: str) -> None:
    assert folded(folded(text)) == folded(text)


@given(st.text(st.characters(codec="utf-8"), max_size=40))
def test_the_way_accents_are_coded_does_not_matter(text: str) -> None:
    forms = {folded(unicodedata.normalize(form, text)) for form in ("NFC", "NFD")}
    assert len(forms) == 1


@pytest.mark.parametrize(
    ("text", "found"), [("+44 (0)20 7946", "440207946"), ("٠٢٠ ٧٩٤٦", "0207946"), ("x²", ""), ("12a3", "123")]
)
def test_digits_of_any_script(text: str, found: str) -> None:
    assert digits(text) == found


@pytest.mark.parametrize(("text", "has"), [("王", True), ("O’B", True), ("😀", False), ("12", False), ("", False)])
def test_a_name_has_a_letter(text: str, has: bool) -> None:
    assert has_a_letter(text) is has


@pytest.mark.parametrize(
    ("asked", "word", "slips"),
    [
        ("amra", "amara", 1),  # one left out
        ("amarra", "amara", 1),  # one too many
        ("amaar", "amara", 1),  # neighbours swapped
        ("amira", "amara", 1),  # one wrong
        ("ama", "amara", 0),  # not finished yet
        ("nwosu", "nwosu", 0),
        ("nowsu", "nwosu", 1),
    ],
)
def test_slips(asked: str, word: str, slips: int) -> None:
    assert word_distance(asked, word) == slips


@pytest.mark.parametrize(("asked", "allowed"), [("ann", 0), ("anna", 1), ("annabe", 1), ("annabel", 2)])
def test_short_words_allow_no_slip(asked: str, allowed: int) -> None:
    assert slips_allowed(asked) == allowed


def test_every_typed_word_must_begin_some_word_of_the_name() -> None:
    assert name_score(["nwo", "amara"], ["amara", "nwosu"]) == 0
    assert name_score(["amaar", "nowsu"], ["amara", "nwosu"]) == 2
    assert name_score(["amara", "okafor"], ["amara", "nwosu"]) is None
    assert name_score(["amara"], []) is None


AMARA = Identity("Amara Nwosu", date(1990, 5, 17), "442079460101", "amara@example.org")


@pytest.mark.parametrize(
    ("other", "why"),
    [
        (Identity("Nwosu Amara", date(1990, 5, 17), "", ""), Sameness.NAME_AND_BIRTH),
        (Identity("Amarra Nwosu", date(1990, 5, 17), "", ""), Sameness.NAME_AND_BIRTH),
        (Identity("Chidi Nwosu", date(1990, 5, 17), "", ""), None),  # a twin, or chance
        (Identity("Amara Nwosu", date(1991, 5, 17), "", ""), None),  # same name, another birth date
        (Identity("Amara Nwosu", None, "", ""), None),
        (Identity("A. N.", None, "2079460101", ""), Sameness.PHONE),  # without the country code
        (Identity("A. N.", None, "", "AMARA@example.org"), Sameness.EMAIL),
        # A family shares an address and a telephone; the birth date tells them apart.
        (Identity("Ada Nwosu", date(2001, 1, 1), "442079460101", "amara@example.org"), None),
        (Identity("A. N.", None, "9460101", ""), None),
        (Identity("", None, "", ""), None),
    ],
)
def test_who_may_be_the_same(other: Identity, why: Sameness | None) -> None:
    assert same_person(AMARA, other) == why
    assert same_person(other, AMARA) == why


letters = st.text("abcdefgh", min_size=4, max_size=9)


@given(letters, st.data())
def test_one_slip_leaves_a_key_in_common(word: str, data: st.DataObject) -> None:
    """The first three letters of one key of what was typed begin one key of what was meant."""
    at, letter = data.draw(st.integers(0, len(word) - 1)), data.draw(st.sampled_from("abcdefgh"))
    swapped = word[:at] + word[at : at + 2][::-1] + word[at + 2 :]
    typed = data.draw(
        st.sampled_from(
            [word[:at] + letter + word[at + 1 :], word[:at] + word[at + 1 :], word[:at] + letter + word[at:], swapped]
        )
    )
    starts = {key[:3] for key in slip_keys(typed)}
    assert any(key.startswith(start) for key in slip_keys(word) for start in starts)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (
            "Ana María Núñez",
            ("ana maria nunez ani", "nunez ana maria", "  ana  maria  nunez  ani  44770090  ani@example.org "),
        ),
        ("Ng", ("ng ani", "ng", "  ng  ani  44770090  ani@example.org ")),
    ],
)
def test_what_somebody_is_found_by(name: str, expected: tuple[str, str, str]) -> None:
    keys = search_keys(name=name, preferred_name="Ani", phone="+44 770090", email="ANI@example.org")
    assert (keys.name, keys.turned, keys.text) == expected


def test_what_is_not_known_is_not_searched() -> None:
    keys = search_keys(name="Ng", preferred_name="", phone="", email="")
    assert (keys.digits, keys.text) == ("", "  ng ")
