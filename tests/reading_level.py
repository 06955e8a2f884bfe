"""How hard words are to read: the school grade by a published formula for their language. 12-year-olds are in 6 or 7.

English: Flesch and Kincaid (1975). German: the first formula of Bamberger and Vanecek (1984) for factual texts.
Arabic is reviewed by a reader and not measured.
"""

from collections.abc import Callable, Iterable

from textstat import textstat

MOST = 7
FORMULAS: dict[str, Callable[[str], float]] = {
    "en": textstat.flesch_kincaid_grade,
    "de": lambda text: textstat.wiener_sachtextformel(text, 1),
}


def grade(texts: Iterable[str], language: str) -> float:
    # It keeps one language for the process, and with it how syllables are counted.
    textstat.set_lang(language)
    return FORMULAS[language](" ".join(texts))
