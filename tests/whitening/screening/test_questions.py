"""The questionnaire: order, conditions, one matter at a time, and words for a phone."""

import re
from collections.abc import Mapping
from typing import Any

import pytest
from django.conf import settings

from clinic.accounts.languages import complete, speaking
from tests.reading_level import FORMULAS, MOST, REVIEWED, grade
from tests.whitening.screening.someone import ALL_WELL, IN_PRIVATE_WELL
from whitening.screening.before import MINUTES_TO_ANSWER
from whitening.screening.facts import AnswerValue
from whitening.screening.questions import (
    Kind,
    Question,
    QuestionRefused,
    home_questions,
    next_question,
    question_before,
    questionnaire,
    questions_for,
    read_questionnaire,
)


def ids(found: tuple[Question, ...]) -> list[str]:
    return [question.id for question in found]


def test_version_and_order() -> None:
    assert questionnaire().version == "1"
    assert ids(questionnaire().questions)[:2] == ["medicines", "light_medicines"]
    assert questionnaire().question("sensitivity").kind is Kind.NUMBER
    assert len(ids(questionnaire().questions)) == len(set(ids(questionnaire().questions))) == 53


@pytest.mark.parametrize(
    ("said", "asked"),
    [
        ({}, set()),
        ({"pregnancy_may_apply": "no"}, set()),
        ({"pregnancy_may_apply": "in_private"}, set()),
        ({"pregnancy_may_apply": "yes"}, {"pregnant", "breastfeeding", "trying_for_a_baby"}),
        ({"whitened_before": "yes"}, {"whitened_last_on", "whitening_hurt", "whitening_often"}),
        ({"whitened_before": "unsure"}, {"whitening_hurt", "whitening_often"}),
        ({"illnesses": ("epilepsy", "diabetes")}, {"last_fit_on"}),
        ({"mouth_lately": ("surgery",)}, {"mouth_operated_on"}),
        ({"mouth_lately": ("knock", "extraction")}, {"mouth_operated_on", "knocked_on"}),
        ({"worn_in_mouth": ("braces_off",)}, {"braces_off_on"}),
        ({"smoking": "vaping"}, {"smoke_free_hard"}),
        ({"smoking": "many"}, set()),
        ({"lying_back": ("asthma",)}, {"asthma_troubles"}),
        ({"allergies": ("latex",)}, set()),
        ({"allergies": ("latex", "other")}, {"allergies_which"}),
        ({"allergies": ()}, set()),
        ({"whitening_now": "stopped"}, {"whitening_stopped_on"}),
        ({"whitening_now": "now"}, set()),
    ],
)
def test_asked_by_what_the_patient_said(said: Mapping[str, AnswerValue], asked: set[str]) -> None:
    conditional = {question.id for question in questionnaire().questions if question.asked_when}
    assert set(ids(questions_for(said))) & conditional == asked


def test_from_the_first_to_the_last_and_back() -> None:
    values: dict[str, AnswerValue] = {}
    visited: list[str] = []
    while (question := next_question(values)) is not None:
        before = question_before(name=question.id, values=values)
        assert (before.id if before else None) == (visited[-1] if visited else None)
        visited.append(question.id)
        values[question.id] = ALL_WELL[question.id]
    assert visited == list(ALL_WELL)
    assert question_before(name="medicines", values=values) is None
    assert question_before(name="pregnant", values=values) is None


def test_resumes_where_it_was_left() -> None:
    values = {name: ALL_WELL[name] for name in list(ALL_WELL)[:8]}
    following = next_question(values)
    assert following is not None
    assert following.id == "pregnancy_may_apply"


def test_private_questions_are_not_sent_home() -> None:
    private = {question.id for question in questionnaire().questions if question.private}
    assert private == set(IN_PRIVATE_WELL)
    assert not private & set(ids(home_questions({})))
    assert private <= set(ids(questions_for({})))


def test_sensitive_matters_are_not_asked_at_home() -> None:
    """Worry about appearance and vomiting belong into a talk."""
    asked = " ".join(f"{question.text} {question.hint}" for question in home_questions({})).casefold()
    assert not re.search(r"vomit|throw up|being sick|worry about how|eating disorder", asked)


@pytest.mark.parametrize("question", questionnaire().questions, ids=lambda question: question.id)
def test_plain_and_short(question: Question) -> None:
    """One question of at most 16 words, then hints of at most 16 words a sentence; no code, no grade."""
    text = str(question.text)
    assert text.endswith("?")
    assert text.count("?") == 1
    offered = [str(words) for _value, words in question.choices]
    for sentence in (text, *re.split(r"(?<=[.!?])\s", str(question.hint)), *offered):
        assert len(sentence.split()) <= 16
    shown = " ".join((text, str(question.hint), *offered))
    assert not re.search(r"[A-Z]{3}-\d\d|a must not|not yet|contraindicat", shown)


def test_how_long_it_takes_somebody_well() -> None:
    """Few enough pages for a phone, and the minutes that are promised beforehand are true."""
    pages = home_questions(ALL_WELL)
    assert len(pages) == len(home_questions({})) == 35
    texts = [" ".join(map(str, (page.text, page.hint, *(words for _, words in page.choices)))) for page in pages]
    minutes = sum(len(text.split()) for text in texts) / 150 + len(pages) * 6 / 60
    assert abs(minutes - MINUTES_TO_ANSWER) < 1


def test_choices() -> None:
    assert [value for value, _ in questionnaire().question("no_fizz").choices] == ["yes", "no"]
    assert [value for value, _ in questionnaire().question("cold_sore").choices] == ["yes", "no", "unsure"]
    assert questionnaire().question("sensitivity").choices == ()


def test_several_to_tick() -> None:
    """Being unsure is offered, and “none” is an answer of its own: nothing ticked says nothing."""
    eyes = questionnaire().question("eyes")
    assert [value for value, _ in eyes.choices] == ["lens", "retina", "glasses", "contact_lenses", "unsure"]
    assert str(eyes.none) == "None of these"
    assert str(questionnaire().question("allergies_which").none) == "I do not know what it is called"


@pytest.mark.parametrize(
    "row",
    [
        {"kind": "choice", "text": "Which?"},
        {"kind": "yes_no", "text": "So?", "choices": [{"value": "a", "text": "A"}]},
        {"kind": "yes_no", "text": "So?", "asked_when": {"later": ["yes"]}},
    ],
    ids=["a choice of nothing", "choices where none belong", "asked after a later one"],
)
def test_a_question_that_cannot_be_asked(row: dict[str, Any]) -> None:
    with pytest.raises(QuestionRefused, match=r"^one: "):
        read_questionnaire({"version": "1", "one": row})


@pytest.mark.parametrize("language", sorted(complete() - REVIEWED))
def test_the_questions_are_read_at_twelve(language: str) -> None:
    """All together, and each alone at most a grade above: names of illnesses and medicines are long."""
    with speaking(language):
        texts = {one.id: f"{one.text} {one.hint}" for one in questionnaire().questions}
    assert grade(texts.values(), language) <= MOST
    assert {name for name, text in texts.items() if grade([text], language) > MOST + 1} == set()


HARD_AND_PLAIN = {
    "en": ("Contraindications necessitate postponement of elective whitening.", "Do your teeth hurt when you eat ice?"),
    "de": (
        "Kontraindikationen erfordern gegebenenfalls eine Verschiebung kosmetischer Zahnaufhellungsmaßnahmen.",
        "Tun Ihre Zähne weh, wenn Sie Eis essen?",
    ),
    "es": (
        "Determinadas contraindicaciones justifican necesariamente posponer procedimientos odontológicos estéticos.",
        "¿Le duelen los dientes si come helado?",
    ),
}


@pytest.mark.parametrize("language", FORMULAS)
def test_each_measure_tells_hard_words_from_plain_ones(language: str) -> None:
    hard, plain = HARD_AND_PLAIN[language]
    assert grade([plain], language) < MOST < grade([hard], language)


def test_every_language_of_the_program_has_its_measure() -> None:
    assert set(FORMULAS) | REVIEWED == {code for code, _name in settings.LANGUAGES}
