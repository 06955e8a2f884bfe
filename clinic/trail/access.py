"""Noting who looked at what, without a write to the database while a page is read."""

from datetime import datetime, timedelta
from uuid import UUID, uuid4

from clinic.trail import canonical, clock, spool
from clinic.trail.actor import ACTOR_KINDS, Actor
from clinic.trail.models import AccessEntry

# With the lengths of their columns: SQLite would take a longer one, PostgreSQL refuses it.
_TEXTS = {"what": 80, "actor_kind": 8, "actor_id": 64, "subject_kind": 40, "subject_id": 64}
_NUMBERS = ("patient_id", "site_id")


def note_read(
    *, actor: Actor, what: str, subject: tuple[str, int | str], patient_id: int | None, site_id: int | None
) -> None:
    """`what` is a short fixed code such as `patients.page`, never a text about the person."""
    at = clock.real_now()
    line: dict[str, canonical.Plain] = {
        "line": uuid4().hex,
        "at": canonical.instant(at),
        "clock_shift_seconds": clock.shift() // timedelta(seconds=1),
        "what": what,
        "actor_kind": actor.kind,
        "actor_id": actor.id,
        "subject_kind": subject[0],
        "subject_id": str(subject[1]),
        "patient_id": patient_id,
        "site_id": site_id,
    }
    # Refused here and not at the import: there it would only be a line left out of the log.
    entry_from(line)
    spool.append(line, at=at)


def entry_from(line: dict[str, canonical.Plain]) -> AccessEntry:
    """The row of a spooled line; ValueError, TypeError or KeyError when the line is not whole."""
    entry = AccessEntry(
        line=UUID(str(line["line"])),
        at=datetime.fromisoformat(str(line["at"])),
        clock_shift_seconds=int(str(line["clock_shift_seconds"])),
    )
    for name, most in _TEXTS.items():
        setattr(entry, name, _text(line[name], most=most))
    for name in _NUMBERS:
        setattr(entry, name, _number(line[name]))
    if entry.actor_kind not in ACTOR_KINDS:
        raise ValueError(f"{entry.actor_kind!r} is no kind of actor.")
    return entry


def _text(value: canonical.Plain, *, most: int) -> str:
    if not isinstance(value, str) or len(value) > most or not value.isprintable():
        raise ValueError(f"{value!r} is no printable text of at most {most} characters.")
    return value


def _number(value: canonical.Plain) -> int | None:
    if value is not None and not isinstance(value, int):
        raise TypeError(f"{value!r} is no number.")
    return value
