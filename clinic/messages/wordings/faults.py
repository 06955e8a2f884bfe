"""What stands against a practice's own words. Pure: the names, the language and example values are given."""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from clinic.messages.letters import one_line
from clinic.messages.models.wordings import SUBJECT_LENGTH, TEXT_LENGTH
from clinic.messages.unseen import is_seen, is_unseen, joins
from clinic.messages.wordings.lengths import length_of
from clinic.messages.wordings.slots import OwnWords, Part
from clinic.messages.words import clinical_words

_NAMED: Final = re.compile(r"{(\w+)}", re.ASCII)
_MOST: Final[Mapping[Part, int]] = {Part.SUBJECT: SUBJECT_LENGTH, Part.TEXT: TEXT_LENGTH, Part.SMS: TEXT_LENGTH}
_BREAKS: Final = frozenset("\u2028\u2029")
_KEPT: Final[Mapping[Part, str]] = {Part.SUBJECT: "", Part.TEXT: "\n\t", Part.SMS: ""}


@dataclass(frozen=True, slots=True)
class Fault:
    part: Part
    sentence: str


def fill(text: str, values: Mapping[str, str]) -> str:
    """Once: braces within a value stay as they are. Raises KeyError for a name that has no value."""
    return _NAMED.sub(lambda found: values[found[1]], text)


def faults_of(
    own: OwnWords,
    part: Part,
    text: str,
    *,
    language: str,
    names: Iterable[str] = (),
    examples: Sequence[Mapping[str, str]] = (),
) -> list[Fault]:
    """Everything at once. names: on the practice's signs, which are never clinical; examples: of each site."""
    found = lasting_faults(own, part, text, language=language, names=names)
    return found or list(_of_length(part, text, examples))


def lasting_faults(own: OwnWords, part: Part, text: str, *, language: str, names: Iterable[str]) -> list[Fault]:
    """Read again before each message: a new release or another name on the sign can make kept words unfit.

    How long a text is depends on the one message, and is seen when it is written out.
    """
    if not any(map(is_seen, text)):
        return [Fault(part, _("Write something here. “Use the program’s words again” is the way back."))]
    return [
        *_of_characters(part, text, language),
        *_of_braces(own, part, text),
        *_of_neighbours(own, part, text),
        *_of_words(part, text, language, names),
    ]


def _of_characters(part: Part, text: str, language: str) -> Iterator[Fault]:
    if len(text) > _MOST[part]:
        most = {"most": _MOST[part], "number": len(text)}
        yield Fault(part, _("%(most)d characters fit here, and there are %(number)d. Shorten it.") % most)
    if any(_is_unfit(text, place, part, language) for place in range(len(text))):
        sentence = _(
            "There is a character in it that is no text, such as a line break or one that nobody sees. Type it anew."
        )
        yield Fault(part, sentence)


def _is_unfit(text: str, place: int, part: Part, language: str) -> bool:
    """What turns the direction of a line is among those that nobody sees."""
    letter = text[place]
    if is_unseen(letter):
        return part is not Part.TEXT or not joins(text, place, language)
    return letter in _BREAKS or (unicodedata.category(letter) == "Cc" and letter not in _KEPT[part])


def _of_braces(own: OwnWords, part: Part, text: str) -> Iterator[Fault]:
    there, here = {slot.name for slot in own.slots}, {slot.name for slot in own.standing_in(part)}
    used = list(dict.fromkeys(_NAMED.findall(text)))
    if any(brace in _NAMED.sub("", text) for brace in "{}"):
        yield Fault(part, _("A brace stands alone. Braces are only for names, such as %(name)s.") % _some(own))
    for name in used:
        if name not in there:
            known = {"name": f"{{{name}}}", "known": ", ".join(slot.braces for slot in own.standing_in(part))}
            yield Fault(part, _("This message does not know %(name)s. It knows: %(known)s.") % known)
        elif name not in here:
            sentence = _("%(name)s must not stand here: it would show on a locked screen.")
            yield Fault(part, sentence % {"name": f"{{{name}}}"})
    for slot in own.needed_in(part):
        if slot.name not in used:
            facts = {"name": slot.braces, "says": slot.says}
            yield Fault(part, _("%(name)s is missing: %(says)s.") % facts)


def _some(own: OwnWords) -> dict[str, str]:
    return {"name": own.slots[0].braces}


def _of_neighbours(own: OwnWords, part: Part, text: str) -> Iterator[Fault]:
    """An address takes in whatever stands right after it, and one right after a word is often no link at all."""
    for slot in own.standing_in(part):
        braces = re.escape(slot.braces)
        if slot.stands_alone and re.search(rf"\S{braces}|{braces}\S", text):
            sentence = _("%(name)s must stand by itself: leave a space on both sides, also before a full stop.")
            yield Fault(part, sentence % {"name": slot.braces})


def _of_words(part: Part, text: str, language: str, names: Iterable[str]) -> Iterator[Fault]:
    """Inside a mail anything may be said; a subject and a text show on locked screens."""
    if part is Part.TEXT:
        return
    found = clinical_words(_NAMED.sub(" ", text), language, except_for=names)
    if found:
        sentence = _("This shows on a locked screen, so it must not say what a visit is about: take out %(words)s.")
        yield Fault(part, sentence % {"words": ", ".join(f"“{word}”" for word in found)})


def _of_length(part: Part, text: str, examples: Sequence[Mapping[str, str]]) -> Iterator[Fault]:
    """With the site that makes it longest."""
    if part is not Part.SMS or not examples:
        return
    longest = max(
        (length_of(one_line(fill(text, values))) for values in examples), key=lambda one: (one.is_too_long, one.parts)
    )
    if longest.is_too_long:
        facts: dict[str, object] = {"parts": longest.parts, "most": longest.alphabet.most}
        sentence = _("It takes %(parts)d parts on the telephone, and %(most)d are the most. Shorten it.")
        if longest.beyond:
            sentence = _(
                "It takes %(parts)d parts on the telephone, and %(most)d are the most. Shorten it, or do without "
                "%(beyond)s: then each part holds more than twice as much."
            )
            facts["beyond"] = longest.beyond_quoted
        yield Fault(part, sentence % facts)
