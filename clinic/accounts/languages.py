"""Which languages the program really speaks, and the only place that switches to one.

A language counts when its compiled catalogue holds every sentence of the template beside it. Half a translation
is worse than none: English sentences from right to left, in the middle of what somebody is to agree to.
"""

from ast import literal_eval
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path

from django.conf import settings
from django.utils import translation

TEMPLATE = "django.pot"
CATALOGUE = Path("LC_MESSAGES") / "django.mo"
# One number for each plural form of any language: Arabic has six (GNU gettext manual, Plural forms).
COUNTS = (0, 1, 2, 3, 11, 100)


@dataclass(frozen=True, slots=True)
class Sentence:
    """What a translator is asked for."""

    text: str
    plural: str = ""
    context: str = ""


def spoken(language: str | None) -> str:
    """The language itself or its plainer form where it is complete, otherwise the one the program is written in."""
    asked = (language or "").lower()
    for code in (asked, asked.partition("-")[0]):
        if code in complete():
            return code
    return settings.LANGUAGE_CODE


def is_spoken(language: str) -> bool:
    """Whether somebody who wants this language gets it."""
    return is_same(spoken(language), language)


def is_same(one: str, other: str) -> bool:
    """ "de" and "de-AT" are one language here."""
    return one.lower().partition("-")[0] == other.lower().partition("-")[0]


def speaking(language: str | None) -> translation.override:
    """`with speaking(patient.language):` everything inside is in that language, or in English from left to right."""
    return translation.override(spoken(language))


def speak(language: str | None) -> str:
    """For the rest of this request; says which one it became."""
    code = spoken(language)
    translation.activate(code)
    return code


def complete() -> frozenset[str]:
    return _complete(tuple(code for code, _name in settings.LANGUAGES), tuple(settings.LOCALE_PATHS))


def choices() -> list[tuple[str, str]]:
    """What somebody may choose for their own pages. Of a patient any language is noted, spoken here or not."""
    return [(code, str(name)) for code, name in settings.LANGUAGES if code in complete()]


def name_of(language: str) -> str:
    """As in "German" for "de", in the reader's own language."""
    return str(dict(settings.LANGUAGES).get(language, language))


@lru_cache(maxsize=8)
def _complete(languages: tuple[str, ...], folders: tuple[Path | str, ...]) -> frozenset[str]:
    """Read once: a catalogue comes with a new release, and the program is restarted for that."""
    whole = {code for code in languages if all(_is_whole(Path(folder), code) for folder in folders)}
    return frozenset(whole | {settings.LANGUAGE_CODE})


def _is_whole(folder: Path, language: str) -> bool:
    template, compiled = folder / TEMPLATE, folder / translation.to_locale(language) / CATALOGUE
    if not template.is_file() or not compiled.is_file():
        return False
    with compiled.open("rb") as file:
        catalogue = GNUTranslations(file)
    catalogue.add_fallback(_Gap())
    try:
        return all(_say(catalogue, each) for each in sentences(template.read_text(encoding="utf-8")))
    except NotTranslated:
        return False


class NotTranslated(LookupError):
    pass


class _Gap(NullTranslations):
    """Asked for whatever a catalogue does not hold."""

    def gettext(self, message: str) -> str:
        raise NotTranslated(message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        raise NotTranslated(msgid1)

    def pgettext(self, context: str, message: str) -> str:
        raise NotTranslated(message)

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        raise NotTranslated(msgid1)


def _say(catalogue: GNUTranslations, sentence: Sentence) -> bool:
    text, plural, context = sentence.text, sentence.plural, sentence.context
    if plural and context:
        return all(catalogue.npgettext(context, text, plural, count) for count in COUNTS)
    if plural:
        return all(catalogue.ngettext(text, plural, count) for count in COUNTS)
    return bool(catalogue.pgettext(context, text) if context else catalogue.gettext(text))


def sentences(template: str) -> Iterator[Sentence]:
    """Each entry of a template as gettext writes it; its head, the entry without words, is none."""
    for entry in template.split("\n\n"):
        parts: dict[str, str] = {}
        name = ""
        for line in entry.splitlines():
            if line.startswith("msg"):
                name = line.partition(" ")[0]
            if line.startswith(("msg", '"')):
                parts[name] = parts.get(name, "") + literal_eval(line.removeprefix(name).strip())
        if parts.get("msgid"):
            yield Sentence(parts["msgid"], parts.get("msgid_plural", ""), parts.get("msgctxt", ""))
