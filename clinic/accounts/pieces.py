"""What two versions of a text say differently, word by word: a changed letter shows as a changed word. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from enum import StrEnum

# Where one paragraph ends and the next begins: a word of its own, so that a split shows.
BREAK = "¶"


class Kind(StrEnum):
    SAME = "same"
    GONE = "gone"
    NEW = "new"


@dataclass(frozen=True, slots=True)
class Piece:
    kind: Kind
    text: str


def pieces(before: str, after: str) -> list[Piece]:
    old, new = before.split(), after.split()
    return list(_pieces(old, new))


def _pieces(old: Sequence[str], new: Sequence[str]) -> Iterator[Piece]:
    for tag, from_old, to_old, from_new, to_new in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "equal":
            yield Piece(Kind.SAME, " ".join(old[from_old:to_old]))
            continue
        # First what is gone, then what stands there instead.
        if to_old > from_old:
            yield Piece(Kind.GONE, " ".join(old[from_old:to_old]))
        if to_new > from_new:
            yield Piece(Kind.NEW, " ".join(new[from_new:to_new]))
