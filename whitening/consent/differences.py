"""Which elements of two versions of the consent differ, each word by word. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from clinic.accounts.pieces import BREAK, Piece, pieces
from whitening.consent.wording import Element


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One element that is not the same in both."""

    number: int
    heading: Sequence[Piece]
    words: Sequence[Piece]
    source: Sequence[Piece]


def differences(before: Sequence[Element], after: Sequence[Element]) -> list[Changed]:
    """Both hold the same elements in the same order: whatever passed the reader does."""
    return [
        Changed(
            number=new.number,
            heading=pieces(old.heading, new.heading),
            words=pieces(_running(old), _running(new)),
            source=pieces(old.source, new.source),
        )
        for old, new in zip(before, after, strict=True)
        if old != new
    ]


def _running(element: Element) -> str:
    return f" {BREAK} ".join(element.paragraphs)
