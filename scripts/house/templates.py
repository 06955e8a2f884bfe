"""Rules for templates: nothing inline, nothing evaluated, every word translated."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

from scripts.house.breach import Breach, blank, find, line_of, rule

MOST_LINES = 100
SPOKEN_ATTRIBUTES = {"alt", "aria-label", "aria-description", "aria-roledescription", "placeholder", "title", "label"}
_WORD = re.compile(r"[^\W\d_]{2,}")
_COMMENT = re.compile(r"{#.*?#}|{%\s*comment\b.*?%}.*?{%\s*endcomment\s*%}|<!--.*?-->", re.DOTALL)
_TRANSLATED = re.compile(r"{%\s*blocktrans(?:late)?\b.*?%}.*?{%\s*endblocktrans(?:late)?\s*%}", re.DOTALL)
# A block may hold the class that the base page puts into an attribute.
_CLASS_BLOCK = re.compile(r"({%\s*block\s+\w+\s*%})\s*[a-z]+(?:-[a-z]+)+\s*(?={%\s*endblock)")
_TAG = re.compile(r"{%.*?%}|{{.*?}}", re.DOTALL)
_TAKES = re.compile(r"{# takes: .+ #}")

RULES = (
    rule(r"<script(?![^>]*\bsrc=)(?![^>]*\btype=\"(?:application/json|importmap)\")[^>]*>", "A script stands inline."),
    rule(r"<style\b", "A style element stands inline."),
    rule(r"<[^>]*\sstyle=", "A style attribute; use a class."),
    rule(r"<[^>]*\son[a-z]+=", "An event attribute; attach a module to a data- attribute."),
    rule(r"\bhx-on\b", "hx-on evaluates text as code."),
    rule(r"\bhx-vals=[\"']?\s*js:|\bhx-vars=|\bhx-headers=[\"']?\s*js:", "A js: value is evaluated as code."),
    rule(r"\bhx-trigger=\"[^\"]*\[", "A trigger filter is evaluated as code."),
    rule(r"\|\s*safe(?:seq)?\b", "Unescaped output; make the string safe where it is built."),
    rule(
        r"{%\s*block\s+title\s*%}(?:(?!{%\s*endblock).)*?(?:{%\s*(?:day|clock|moment|mark)\b|\|\s*(?:ltr|person|stopwatch)\b)",
        "A title is plain text; this tag makes an element, which a title shows as it is written.",
    ),
    rule(
        # An address and a date control want "2026-03-03"; whatever a person reads has one shape per language.
        r"\|\s*(?:date|time)\b(?!:\"Y-m-d)",
        "A shape of its own for a date; use the tags day, moment, clock, birth_day, or those that end in _words.",
    ),
    rule(
        r"{{\s*(?!form\.)[\w.]+_(?:on|at|until)\s*}}",
        "A bare date; use the tags day, moment, clock, birth_day, or those that end in _words.",
    ),
    rule(r"https?://(?!www\.w3\.org/)[\w.-]+", "An address of another machine."),
)


# A plain text (a mail, a text message) has nothing to escape; a page always has.
PAGE_RULES = (rule(r"{%\s*autoescape\s+off", "Unescaped output; make the string safe where it is built."),)


class _Words(HTMLParser):
    """Collects where a page speaks untranslated. `translate="no"` marks what is the same in every language."""

    # Elements without an end tag never open a silent part.
    VOID = frozenset({"area", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"})

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[int, str]] = []
        self._silent: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name in SPOKEN_ATTRIBUTES and _WORD.search(value or ""):
                self.found.append((self.getpos()[0], f"{name}={value}"))
        opens_silence = tag in {"script", "style"} or ("translate", "no") in attrs
        if tag not in self.VOID and (self._silent or opens_silence):
            self._silent.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._silent and self._silent[-1] == tag:
            self._silent.pop()

    def handle_data(self, data: str) -> None:
        if not self._silent and (word := _WORD.search(data)):
            self.found.append((self.getpos()[0] + data.count("\n", 0, word.start()), " ".join(data.split())))


def breaches(path: Path, text: str) -> Iterator[Breach]:
    spoken = blank(_COMMENT, text)
    yield from find(RULES + (PAGE_RULES if path.suffix == ".html" else ()), text=spoken, path=path)
    yield from _untranslated(path, spoken)
    if path.name.startswith("_") and not _TAKES.match(text):
        yield Breach(path, 1, "A partial opens with {# takes: … #}, the variables it needs.")
    if line_of(text, len(text)) > MOST_LINES + 1:
        yield Breach(path, MOST_LINES, f"A template has at most {MOST_LINES} lines; make partials.")


def _untranslated(path: Path, text: str) -> Iterator[Breach]:
    bare = blank(_TAG, blank(_CLASS_BLOCK, blank(_TRANSLATED, text)))
    if path.suffix == ".html":
        parser = _Words()
        parser.feed(bare)
        parser.close()
        found = parser.found
    else:
        found = [(number, line) for number, line in enumerate(bare.splitlines(), 1) if _WORD.search(line)]
    for line, words in found:
        yield Breach(path, line, f"Words outside a translate tag ({words[:60]})")
