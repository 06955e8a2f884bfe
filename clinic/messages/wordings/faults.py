"""What stands against a practice's own words. Pure: the site's names and example values are given."""

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _

from clinic.messages.letters import one_line
from clinic.messages.models.wordings import SUBJECT_LENGTH, TEXT_LENGTH
from clinic.messages.wordings.lengths import length_of
from clinic.messages.wordings.slots import OwnWords, Part
from clinic.messages.words import clinical_in_any_language

_NAMED: Final = re.compile(r"{(\w+)}", re.ASCII)
_MOST: Final[Mapping[Part, int]] = {Part.SUBJECT: SUBJECT_LENGTH, Part.TEXT: TEXT_LENGTH, Part.SMS: TEXT_LENGTH}
# Turns the direction of what follows: in a subject it could make one word look like another.
_TURNS: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
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
    own: OwnWords, part: Part, text: str, *, names: Sequence[str] = (), examples: Sequence[Mapping[str, str]] = ()
) -> list[Fault]:
    """Everything at once. names: of practice and sites, which are never clinical; examples: of each site."""
    if not text.strip():
        return [Fault(part, _("Write something here. “Use the program’s words again” is the way back."))]
    found = [*_of_characters(part, text), *_of_braces(own, part, text), *_of_words(part, text, names)]
    return found or list(_of_length(part, text, examples))


def braces_faults(own: OwnWords, part: Part, text: str) -> list[Fault]:
    """What could make it unfit to be sent after a new release of the program."""
    return list(_of_braces(own, part, text))


def _of_characters(part: Part, text: str) -> Iterator[Fault]:
    if len(text) > _MOST[part]:
        most = {"most": _MOST[part], "number": len(text)}
        yield Fault(part, _("%(most)d characters fit here, and there are %(number)d. Shorten it.") % most)
    if any(_is_unfit(letter, part) for letter in text):
        yield Fault(part, _("There is a character in it that is no text, such as a line break. Type it anew."))


def _is_unfit(letter: str, part: Part) -> bool:
    if letter in _TURNS | _BREAKS:
        return True
    return unicodedata.category(letter) == "Cc" and letter not in _KEPT[part]


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


def _of_words(part: Part, text: str, names: Sequence[str]) -> Iterator[Fault]:
    """Inside a mail anything may be said; a subject and a text show on locked screens."""
    if part is Part.TEXT:
        return
    found = clinical_in_any_language(_NAMED.sub(" ", text), except_for=names)
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
                "%(beyond)s, which make every part half as long."
            )
            facts["beyond"] = " ".join(longest.beyond[:12])
        yield Fault(part, sentence % facts)
