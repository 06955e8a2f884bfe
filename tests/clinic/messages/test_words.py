"""No clinical word where a locked screen would show it: the checker, and every wording there is."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import translation

from clinic.messages import kinds
from clinic.messages.kinds import Kind
from clinic.messages.words import STEMS, WHOLE, clinical_words

ROOT = Path(settings.BASE_DIR) / "templates"
PARTS = ("subject.txt", "text.txt", "sms.txt")


@pytest.mark.parametrize(
    ("text", "language", "found"),
    [
        ("Fernbrook Dental Rooms: your appointment is on Tue 3 Mar, 14:30. Questions? +44 20 7946 0100", "en", []),
        ("Your WHITENING visit", "en", ["WHITENING"]),
        ("How do your teeth feel?", "en", ["teeth"]),
        ("The gel is ready", "en", ["gel"]),
        ("I will tell Ms Whitfield and Mr Lipton", "en", []),
        ("I'll call you about the white form", "en", []),
        ("See https://example.org/p/l/whitening-teeth/", "en", []),
        ("Ihre Zahnaufhellung", "de", ["Zahnaufhellung"]),
        ("Ihr Termin am Dienstag", "de", []),
        # German puts what it is about at the end of a word, and its front desk has a clinical word in front.
        (
            "Nach Rückenschmerzen: Ihre Nachbehandlung der Frontzähne",
            "de",
            ["Rückenschmerzen", "Nachbehandlung", "Frontzähne"],
        ),
        ("Mundspülung, Mundhygiene", "de", ["Mundspülung", "Mundhygiene"]),
        ("Bitte an der Rezeption melden, die Rezeptionistin wartet", "de", []),
        ("Ihr Rezept, Folgerezepte, die Rezeptgebühr", "de", ["Rezept", "Folgerezepte", "Rezeptgebühr"]),
        ("Weißer als Weiß, weisse", "de", ["Weißer", "Weiß", "weisse"]),
        # An untranslated English word is found in every language.
        ("Ihr whitening Termin", "de", ["whitening"]),
        ("Su blanqueamiento dental", "es", ["blanqueamiento"]),
        ("Su cita del martes", "es-MX", []),
        ("موعد تبييض أسنانك", "ar", ["تبييض", "أسنانك"]),
        ("والأسنان", "ar", ["والأسنان"]),
        ("موعدك يوم الثلاثاء", "ar", []),
        ("Whitening in a language without a list", "xx", ["Whitening"]),
        # Each text by its own language and English: the other lists would take out plain words.
        ("A sensible time for a receta", "en", []),
        ("Una hora sensible", "es", ["sensible"]),
        ("gel, GEL and gel", "en", ["gel", "GEL"]),
        # As an eye reads it: soft hyphen, zero width space, variation selector, filler, wide letters, Arabic marks.
        ("Your white\u00adning", "en", ["whitening"]),
        ("te\u200beth te\ufe0feth te\u3164eth t\u034feeth", "en", ["teeth"]),
        ("\uff34\uff45\uff45\uff54\uff48", "en", ["Teeth"]),
        ("Una visita cli\u200b\u0301nica", "es", ["clínica"]),
        ("موعد أَسنانك", "ar", ["أسنانك"]),
    ],
)
def test_the_checker(text: str, language: str, found: list[str]) -> None:
    assert clinical_words(text, language) == found


@pytest.mark.parametrize(
    ("text", "names", "found"),
    [
        ("Bright Teeth Rooms: Tuesday", ["bright teeth rooms"], []),
        ("BRIGHT  TEETH ROOMS: Tuesday", ["Bright Teeth Rooms"], []),
        ("Bright Te\u200beth Rooms: Tuesday", ["Bright Teeth\u200b Rooms"], []),
        ("Bright Teeth Rooms: your teeth", ["Bright Teeth Rooms"], ["teeth"]),
        ("Bright Teeth and Bright Teeth Rooms", ["Bright Teeth", "Bright Teeth Rooms"], []),
        # A name is a whole word or nothing: neither of these makes whitening a harmless word.
        ("Your whitening", ["White", "W", "", "\u200b"], ["whitening"]),
        ("Tooth + Gum", ["Tooth + Gum"], []),
    ],
)
def test_names_on_signs_are_not_searched(text: str, names: list[str], found: list[str]) -> None:
    assert clinical_words(text, "en", except_for=names) == found


def test_each_language_that_is_shipped_has_its_list() -> None:
    shipped = {code for code, _name in settings.LANGUAGES}
    assert shipped <= STEMS.keys()
    assert all(STEMS[code] or WHOLE[code] for code in shipped)


def every_kind() -> list[Kind[object]]:
    return [kind for code, kind in sorted(kinds.registered().items()) if not code.startswith("test_")]


def test_there_are_kinds() -> None:
    assert {"code", "new_link"} <= {kind.code for kind in every_kind()}


@pytest.mark.parametrize("language", [code for code, _name in settings.LANGUAGES])
def test_every_registered_wording(language: str) -> None:
    """Subjects and texts as they stand in the templates, each sentence in its translation."""
    for kind in every_kind():
        for part in PARTS:
            assert (ROOT / kind.wording / part).is_file(), f"{kind.code} has no {part}"
        for part in ("subject.txt", "sms.txt"):
            words = said((ROOT / kind.wording / part).read_text(), language)
            assert clinical_words(words, language) == [], f"{kind.code}, {part}, {language}"


def said(template: str, language: str) -> str:
    """The fixed words of a template: its own and, translated, those of its translate tags."""
    blocks = re.findall(r"{% blocktrans(?:late)?[^%]*%}(.*?){% endblocktrans(?:late)? %}", template, re.DOTALL)
    single = re.findall(r"{% trans(?:late)? \"([^\"]*)\"", template)
    messages = [part for block in blocks for part in re.split(r"{% plural %}", block)] + single
    with translation.override(language):
        translated = [translation.gettext(re.sub(r"{{ *(\w+)[^}]*}}", r"%(\1)s", message)) for message in messages]
    outside = re.sub(r"{% blocktrans.*?{% endblocktrans(?:late)? %}", " ", template, flags=re.DOTALL)
    plain = re.sub(r"{%.*?%}|{{.*?}}|{#.*?#}", " ", outside)
    return re.sub(r"%\(\w+\)s", " ", " ".join([plain, *translated]))
