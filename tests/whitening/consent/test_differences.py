"""Two versions of the consent, compared word by word."""

from dataclasses import replace

import pytest

from clinic.accounts.pieces import BREAK, Kind, pieces
from whitening.consent.differences import differences
from whitening.consent.wording import shipped

WORDS = shipped()["en"][-1].elements


@pytest.mark.parametrize(("before", "after", "said"), [
    ("It does not hurt.", "It does not hurt.", [("same", "It does not hurt.")]),
    ("It may hurt.", "It often hurts.", [("same", "It"), ("gone", "may hurt."), ("new", "often hurts.")]),
    ("for 48 hours", "for 72 hours", [("same", "for"), ("gone", "48"), ("new", "72"), ("same", "hours")]),
    ("", "New words", [("new", "New words")]),
    ("Old words", "", [("gone", "Old words")]),
    # However it is broken into lines: nobody reads a difference in that.
    ("one  two\nthree", "one two three", [("same", "one two three")]),
])  # fmt: skip
def test_words_not_lines_and_not_letters(before: str, after: str, said: list[tuple[str, str]]) -> None:
    assert [(piece.kind, piece.text) for piece in pieces(before, after)] == said


def test_either_side_can_be_read_from_it() -> None:
    before, after = " ".join(WORDS[4].paragraphs), " ".join(WORDS[5].paragraphs)
    found = pieces(before, after)
    for side, left_out in ((before, Kind.NEW), (after, Kind.GONE)):
        assert " ".join(piece.text for piece in found if piece.kind != left_out) == side


def test_only_elements_that_changed() -> None:
    split = replace(WORDS[5], paragraphs=(*WORDS[5].paragraphs, "Ask us."))
    found = differences(WORDS, (replace(WORDS[0], heading="Who"), *WORDS[1:5], split, *WORDS[6:]))
    assert [change.number for change in found] == [1, 6]
    assert [piece.kind for piece in found[0].words] == [Kind.SAME]
    assert [(piece.kind, piece.text) for piece in found[1].words][1:] == [("new", f"{BREAK} Ask us.")]
    assert differences(WORDS, WORDS) == []
