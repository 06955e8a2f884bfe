"""Every sentence of the data files can be translated: the extractor's copies are up to date."""

from pathlib import Path

import pytest

from scripts.extract_words import files
from whitening.screening.held import held_by_gates
from whitening.screening.ingredients import ingredients
from whitening.screening.jurisdictions import jurisdictions
from whitening.screening.questions import WITH_CHOICES, Question, questionnaire
from whitening.screening.reask import reask_list
from whitening.screening.rulebook import rules
from whitening.screening.teeth import teeth
from whitening.screening.words import Words, words

EXTRACTED = files()


@pytest.mark.parametrize("path", EXTRACTED, ids=lambda path: path.name)
def test_up_to_date(path: Path) -> None:
    assert path.read_text(encoding="utf-8") == EXTRACTED[path], "run python -m scripts.extract_words"


def own_choices(question: Question) -> list[Words]:
    """Without “yes”, “no”, “not sure” and “none”, which stand in the program itself."""
    if question.kind not in WITH_CHOICES:
        return []
    return [text for value, text in question.choices if value != "unsure"]


def test_nothing_shown_is_missed() -> None:
    shown = {
        *(text for rule in rules().values() for text in (rule.finding, rule.reason, rule.what_to_do)),
        *(rule.at_the_chair for rule in rules().values() if rule.at_the_chair is not None),
        *(rule.clears.on_event for rule in rules().values()),
        *(text for question in questionnaire().questions for text in (question.text, question.hint) if text),
        *(text for question in questionnaire().questions for text in own_choices(question)),
        *(text for held in held_by_gates().values() for text in (held.finding, held.how)),
        *(one.text for one in ingredients().values()),
        *(item.text for item in reask_list().items),
        *(text for tooth in teeth().values() for text in (tooth.name, tooth.patient_name)),
        *(text for place in jurisdictions().values() for text in (place.name, place.cap_basis, place.note)),
    }
    everything = "".join(EXTRACTED.values())
    assert [text for text in map(str, shown) if f'"{text}"' not in everything] == []


def test_no_words_stay_no_words() -> None:
    """gettext would answer an empty key with its file's head."""
    assert words("") == ""
