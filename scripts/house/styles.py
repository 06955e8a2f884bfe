"""Rules for style sheets and browser modules: tokens name the values, logical properties name the sides."""

import re
from collections.abc import Iterator
from pathlib import Path

from scripts.house.breach import Breach, blank, find, rule

TOKENS = "tokens.css"
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
# A condition cannot read a variable, and a paper size is no token of the screen.
_CONDITION = re.compile(r"@(?:media|container|supports)[^{]*{|@page[^{]*{[^}]*}|@font-face\s*{[^}]*}|url\([^)]*\)")

SIDES = (
    rule(r"\b(?:margin|padding|border|scroll-margin|scroll-padding)-(?:left|right)\b", "A physical side; use inline."),
    rule(r"(?<![\w-])(?:left|right)\s*:", "A physical side; use inset-inline-start or -end."),
    rule(r"\b(?:text-align|float|clear|caption-side)\s*:\s*(?:left|right)\b", "A physical side; use start or end."),
    rule(r"\bborder-(?:top|bottom)-(?:left|right)-radius\b", "A physical corner; use border-start-start-radius."),
)
VALUES = (
    rule(r"#[0-9a-f]{3,8}\b(?=[^{}]*[;}])", "A colour outside tokens.css."),
    rule(r"\b(?:rgba?|hsla?|hwb|lab|lch|oklab|oklch|color)\(", "A colour outside tokens.css."),
    rule(r":[^;{}]*\b(?:white|black|red|green|blue|gray|grey|orange|yellow|purple)\b", "A colour outside tokens.css."),
    rule(
        r"(?<![\w.#-])(?!0(?:px|rem|em)?\b)\d*\.?\d+(?:px|rem|em|ex|ch|pt|mm|cm|in|vw|vh|dvh|svh|vmin|vmax)\b",
        "A size outside tokens.css.",
    ),
    rule(r"(?<![\w.#-])\d*\.?\d+m?s\b", "A duration outside tokens.css."),
)
BROWSER = (
    rule(r"\beval\(|\bnew Function\b|\bdocument\.write\b", "Text evaluated as code."),
    rule(r"\.style\b|setAttribute\(\s*[\"']style", "A style set from a script; switch a class or an attribute."),
    rule(r"\b(?:local|session)Storage\b", "The browser's storage keeps nothing of a patient."),
    rule(r"\.(?:inner|outer)HTML\s*=|insertAdjacentHTML", "Markup built from text; use the server's fragment."),
    rule(r"https?://(?!www\.w3\.org/)[\w.-]+", "An address of another machine."),
)


def style_breaches(path: Path, text: str) -> Iterator[Breach]:
    bare = blank(_COMMENT, text)
    yield from find(SIDES, text=bare, path=path)
    # A sheet of paper has sizes of its own; the tokens are those of the screen.
    if path.parts[0] == "static" and path.name != TOKENS:
        yield from find(VALUES, text=blank(_CONDITION, bare), path=path)


def browser_breaches(path: Path, text: str) -> Iterator[Breach]:
    yield from find(
        BROWSER, text=blank(re.compile(r"/\*.*?\*/|^\s*//[^\n]*", re.DOTALL | re.MULTILINE), text), path=path
    )
