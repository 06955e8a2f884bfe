"""Making a database and its files of an archive again, and proving that nothing is lacking.

The proof runs over what was restored, never over the archive's own word. A check that could not run
is red.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg
from cryptography.fernet import InvalidToken
from django.db import DatabaseError
from django.utils.translation import gettext as _

from clinic.trail.backup.engines import Engine, MayNotCreate, TargetNotEmpty, engine
from clinic.trail.backup.looks import Copy, all_looks, connected
from clinic.trail.backup.making import workspace
from clinic.trail.backup.programs import ProgramFailed
from clinic.trail.backup.sealed import ArchiveUnreadable
from clinic.trail.backup.unpacking import Unpacked, unpack

# What may go wrong with an archive, a disk, a server or a key; anything else is a fault of ours.
FAILURES = (
    ArchiveUnreadable,
    DatabaseError,
    InvalidToken,
    MayNotCreate,
    OSError,
    ProgramFailed,
    TargetNotEmpty,
    psycopg.Error,
    sqlite3.Error,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    what: str
    # Empty when it holds.
    said: str

    @property
    def holds(self) -> bool:
        return not self.said


@dataclass(slots=True, kw_only=True)
class Verdict:
    checks: list[Check] = field(default_factory=list)

    @property
    def is_good(self) -> bool:
        return bool(self.checks) and all(check.holds for check in self.checks)

    @contextmanager
    def checking(self, what: str) -> Iterator[list[str]]:
        """Add to the list what is wrong; a check that breaks off is red with its reason."""
        said: list[str] = []
        try:
            yield said
        except FAILURES as error:
            said.append(_("It could not be done: %(error)s") % {"error": str(error).strip() or type(error).__name__})
        self.checks.append(Check(what=what, said="; ".join(filter(None, said))))


def check(archive: Path) -> Verdict:
    """Restores into a passing database of the same engine and a passing folder, and looks at both."""
    base, verdict = engine(), Verdict()
    with workspace() as folder:
        name = base.passing_name(folder)
        _run(verdict, archive, folder / "restored", base=base, name=name)
        with verdict.checking(_("The passing database is gone again")):
            base.remove(name)
    return verdict


def restore(archive: Path, *, into: Path, database: str) -> Verdict:
    """For real, into an empty folder and, on PostgreSQL, an empty database; nothing is written over."""
    if into.exists() and any(into.iterdir()):
        raise TargetNotEmpty(f"{into} is not empty.")
    base, verdict = engine(), Verdict()
    name = database if base.vendor == "postgresql" else str(into / "casebook.sqlite3")
    base.refuse_what_is_taken(name)
    _run(verdict, archive, into, base=base, name=name)
    return verdict


def _run(verdict: Verdict, archive: Path, folder: Path, *, base: Engine, name: str) -> None:
    unpacked: Unpacked | None = None
    with verdict.checking(_("The archive opens, whole and unaltered")) as said:
        unpacked = unpack(archive, folder)
        said += [_("%(name)s is not as it was") % {"name": name} for name in unpacked.differing()[:5]]
    if unpacked is None:
        return
    settings: dict[str, Any] = {}
    with verdict.checking(_("The database is restored")) as said:
        if unpacked.manifest.vendor == base.vendor:
            settings = base.restore(folder / "database", name=name)
        else:
            sentence = _("The archive was made on %(made)s and this installation runs on %(here)s.")
            said.append(sentence % {"made": unpacked.manifest.vendor, "here": base.vendor})
    if settings:
        (folder / "database").unlink(missing_ok=True)
        _look(verdict, Copy(unpacked=unpacked, engine=base, settings=settings))


def _look(verdict: Verdict, copy: Copy) -> None:
    with connected(copy):
        for what, look in all_looks().items():
            with verdict.checking(what) as said:
                said.append(look(copy))
