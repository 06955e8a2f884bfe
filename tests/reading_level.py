"""How hard words are to read: the school grade by a published formula for their language. 12-year-olds are in 6 or 7.

English: Flesch and Kincaid (1975). German: the first formula of Bamberger and Vanecek (1984) for factual texts.
Spanish: Crawford (1984), the years at school that a text for children takes.
"""

from collections.abc import Callable, Iterable
from typing import Final

from textstat import textstat

MOST: Final = 7
FORMULAS: Final[dict[str, Callable[[str], float]]] = {
    "en": textstat.flesch_kincaid_grade,
    "de": lambda text: textstat.wiener_sachtextformel(text, 1),
    "es": textstat.crawford,
}
# By somebody who reads it, not measured: no formula that was looked at is meant for it.
REVIEWED: Final = frozenset({"ar"})


def grade(texts: Iterable[str], language: str) -> float:
    # It keeps one language for the process, and with it how syllables are counted.
    textstat.set_lang(language)
    return FORMULAS[language](" ".join(texts))
