"""Who is found, and in which order, among invented people of many languages: the same on both engines."""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from clinic.patients.actions import change_patient, details_of
from clinic.patients.models import NameKey
from clinic.patients.rules import folded
from clinic.patients.search import LIMIT, find
from tests.cast import NOW, Cast, actor_of
from tests.clinic.patients.people import registered

NAMES = [
    "Anneliese Brøndum", "Jürgen Weißmüller", "Þórdís Ægisdóttir", "Zbigniew Łąkowski", "Škvorecká Jiřina",
    "Nguyễn Thị Hồng", "Ng Wei", "Li Na", "王小芳", "佐藤 みどり", "김하늘", "Αλέξανδρος Παπαδάκης", "Олена Шевчук-Гай",
    "Борис Ёлкин", "عمر الحدّاد", "דוד בן־עמי", "अनीता शर्मा", "Siobhán O’Hanrahan", "Mac Giolla Phádraig",
    "Ana María Núñez Quintero", "José Luis Quintanilla", "João d’Ávila Peçanha", "Fatoumata Diarra-Keïta",
    "Oluwaseun Adéyẹmí", "Chukwuemeka Nwosuagu", "Van der Meulen Joost", "Çağla Işıldar", "Ilinca Țurcanu",
    "Mārtiņš Kļaviņš", "Eszter Győrffyová", "Tarja Hämäläinen", "Maria Quint", "Marja Quinn", "Mariam Quaye",
    "Johanna Stone", "Joanna Stein", "Hannah Stern", "Anna Sterne", "Annabel Storm", "Anja Sturm",
]  # fmt: skip


@pytest.fixture
def register(cast: Cast) -> Cast:
    for name in NAMES:
        registered(cast, name)
    return cast


def names_found(cast: Cast, asked: str) -> list[str]:
    return [one.name for one in find(asked=asked, user=cast.desk)]


def beginnings() -> Iterator[str]:
    for word in {word for name in NAMES for word in folded(name).split()}:
        yield from (word[:length] for length in range(1, min(len(word), 5) + 1))


def matching(asked: str) -> list[str]:
    """Read one by one: names of which a word begins so; whole words first, then by name."""
    whole = {name: f" {folded(name)} " for name in NAMES}
    hits = [name for name in NAMES if f" {asked}" in whole[name]]
    return sorted(hits, key=lambda name: (f" {asked} " not in whole[name], whole[name]))


def test_every_beginning_of_every_word_gives_what_reading_all_names_would(register: Cast) -> None:
    for asked in sorted(set(beginnings())):
        found, expected = names_found(register, asked), matching(asked)
        if len(expected) > LIMIT:
            assert set(found) <= set(expected), asked
            assert len(found) == LIMIT, asked
        else:
            # After them may come what holds the letters inside a word, and what was nearly typed so.
            assert found[: len(expected)] == expected, asked


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        # Typed plainly, as on any keyboard.
        ("weissmuller", "Jürgen Weißmüller"),
        ("thordis aegis", "Þórdís Ægisdóttir"),
        ("lakowski", "Zbigniew Łąkowski"),
        ("nunez", "Ana María Núñez Quintero"),
        ("d'avila", "João d’Ávila Peçanha"),
        ("cagla isil", "Çağla Işıldar"),
        ("klavins", "Mārtiņš Kļaviņš"),
        ("adeyemi", "Oluwaseun Adéyẹmí"),
        ("nguyen hong", "Nguyễn Thị Hồng"),
        # Two letters that are a whole name come before those that begin longer ones.
        ("ng", "Ng Wei"),
        ("li", "Li Na"),
        ("na", "Li Na"),
        # Other scripts.
        ("王", "王小芳"),
        ("みど", "佐藤 みどり"),
        ("김하", "김하늘"),
        ("παπαδ", "Αλέξανδρος Παπαδάκης"),
        ("гай", "Олена Шевчук-Гай"),
        ("елкин", "Борис Ёлкин"),
        ("الحداد", "عمر الحدّاد"),
        ("שרמה", ""),
        ("शर्मा", "अनीता शर्मा"),
        # A word in the middle; words in any order; beginnings of several.
        ("quintero ana", "Ana María Núñez Quintero"),
        ("mar nun", "Ana María Núñez Quintero"),
        ("joost meu", "Van der Meulen Joost"),
        # Slips: swapped, missing, too many, wrong; at the beginning, inside, at the end; two in a long word.
        ("wiessmuller", "Jürgen Weißmüller"),
        ("quintreo", "Ana María Núñez Quintero"),
        ("uqinn", "Marja Quinn"),
        ("qinntanilla", "José Luis Quintanilla"),
        ("shevchuk", ""),
        ("шевчюк", "Олена Шевчук-Гай"),
        ("παπδακης", "Αλέξανδρος Παπαδάκης"),
        ("chukwuemka nwosuagu", "Chukwuemeka Nwosuagu"),
        ("hamalinen", "Tarja Hämäläinen"),
        ("amalainen", "Tarja Hämäläinen"),
        ("fatuomata diarra", "Fatoumata Diarra-Keïta"),
        ("o'hanrahna", "Siobhán O’Hanrahan"),
        # Too far from anybody.
        ("quxxzn", ""),
    ],
)
def test_who_comes_first(register: Cast, asked: str, first: str) -> None:
    found = names_found(register, asked)
    assert (found[0] if found else "") == first


def test_what_is_right_comes_before_what_is_nearly_right(register: Cast) -> None:
    assert names_found(register, "stern")[:2] == ["Hannah Stern", "Anna Sterne"]
    assert names_found(register, "anna")[:4] == ["Anna Sterne", "Annabel Storm", "Hannah Stern", "Joanna Stein"]


def test_a_slip_that_was_mended_is_nobodys_name_any_more(cast: Cast) -> None:
    """Of two people who are written alike, the word stays as long as one of them has it."""
    first, second = registered(cast, "Amara Nwosuu"), registered(cast, "Bela Nwosuu")
    for patient, left in ((first, 4), (second, 0)):
        details = replace(details_of(patient), name=patient.name.removesuffix("u"))
        who = {"user": cast.desk, "actor": actor_of(cast.desk), "now": NOW}
        change_patient(patient=patient, details=details, seen_version=1, **who)  # type: ignore[arg-type]
        assert NameKey.objects.filter(word="nwosuu").count() == left
    assert names_found(cast, "nwosuu") == ["Amara Nwosu", "Bela Nwosu"]


def test_a_slip_beside_a_word_that_nobody_is_called_finds_nobody(register: Cast) -> None:
    assert names_found(register, "quintreo xxxxxx") == []


def test_somebody_called_just_so_comes_without_those_who_hold_it_inside(cast: Cast) -> None:
    """As a whole name; while it is typed, or where nobody is called so, parts of longer names count."""
    for name in ("Anna Berg", "Anna Maria Berg", "Johanna Bergmann"):
        registered(cast, name)
    assert names_found(cast, "anna berg") == ["Anna Berg", "Anna Maria Berg"]
    assert names_found(cast, "anna ber") == ["Anna Berg", "Anna Maria Berg", "Johanna Bergmann"]
    assert names_found(cast, "hanna berg")[0] == "Johanna Bergmann"
