"""Whether every file that the database names is there and is what it was: read in pieces, told one by one."""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

PIECE_BYTES = 1024 * 1024


class State(StrEnum):
    GENUINE = "genuine"
    MISSING = "missing"
    ALTERED = "altered"
    UNREADABLE = "unreadable"

    @property
    def label(self) -> str | Promise:
        return LABELS[self]


LABELS: dict[State, str | Promise] = {
    State.GENUINE: _("genuine"),
    State.MISSING: _("missing"),
    State.ALTERED: _("altered"),
    State.UNREADABLE: _("cannot be read"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """path is below the folder of files; why says what the system answered where the file cannot be read."""

    path: str
    state: State
    bytes_read: int = 0
    why: str = ""


def verified(referenced: Iterable[tuple[str, str]], *, folder: Path) -> Iterator[Checked]:
    """One answer for each file, as it is read: however many there are, one piece of one of them is in memory."""
    for sha256, path in referenced:
        yield _checked(sha256, path, folder)


def _checked(sha256: str, path: str, folder: Path) -> Checked:
    file = folder / path
    try:
        # A pipe in its place would wait for a writer for ever; whatever is no file is not the file that was kept.
        if not file.is_file():
            return Checked(path=path, state=State.ALTERED if file.exists() else State.MISSING)
        found, size = _digest(file)
    except FileNotFoundError:
        return Checked(path=path, state=State.MISSING)
    except OSError as error:
        return Checked(path=path, state=State.UNREADABLE, why=error.strerror or type(error).__name__)
    return Checked(path=path, state=State.GENUINE if found == sha256 else State.ALTERED, bytes_read=size)


def _digest(file: Path) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    with file.open("rb", buffering=0) as opened:
        while piece := opened.read(PIECE_BYTES):
            digest.update(piece)
            size += len(piece)
    return digest.hexdigest(), size
