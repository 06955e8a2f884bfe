"""Brings spooled accesses into the database: each line once, whatever crashes in between.

The offset moves in the transaction of the rows. Should a restored database know an older offset, the
line's own id still keeps it from coming in twice.
"""

import logging
from datetime import date, datetime, timedelta
from pathlib import Path
from uuid import UUID

from django.db import transaction

from clinic.trail import access, locks, spool
from clinic.trail.models import AccessEntry, AccessSpool

BATCH = 1_000
KEPT = timedelta(days=2)
log = logging.getLogger(__name__)


def import_spool(now: datetime) -> int:
    """The number of lines brought in."""
    total = 0
    for path in spool.files():
        try:
            while (lines := _import_batch(path)) is not None:
                total += lines
            _clear(path, now)
        except FileNotFoundError:
            # Another worker was through with it and cleared it away.
            continue
    return total


def _import_batch(path: Path) -> int | None:
    """The number of lines brought in; None when nothing is waiting."""
    # Looked at before the transaction: an idle tick must not take SQLite's write lock.
    first = spool.identity(path)
    if first is None or not _waiting(path, first):
        return None
    with transaction.atomic():
        locks.hold(locks.IMPORTER)
        offset = _offset(path, first)
        lines, end, torn = spool.read_lines(path, offset=offset, limit=BATCH)
        if end == offset:
            return None
        entries = [entry for line in lines if (entry := _entry(line)) is not None]
        AccessEntry.objects.bulk_create(entries, ignore_conflicts=True)
        AccessSpool.objects.update_or_create(file_name=path.name, defaults={"first_line": first, "imported_bytes": end})
    damaged = torn + len(lines) - len(entries)
    if damaged:
        log.warning("%s: %d damaged lines were left out of the access log", path.name, damaged)
    return len(entries)


def _offset(path: Path, first: UUID) -> int:
    """Where to read on; from the start when the row speaks of another file of that name."""
    known = AccessSpool.objects.filter(file_name=path.name, first_line=first).first()
    return known.imported_bytes if known else 0


def _waiting(path: Path, first: UUID) -> bool:
    return path.stat().st_size > _offset(path, first)


def _entry(line: spool.Line) -> AccessEntry | None:
    try:
        return access.entry_from(line)
    except (KeyError, TypeError, ValueError):
        return None


def _clear(path: Path, now: datetime) -> None:
    """Removes a file that nobody appends to any more, once all of it is in the database."""
    try:
        day = date.fromisoformat(path.stem.removeprefix("access-"))
    except ValueError:
        return
    first = spool.identity(path)
    if (now - KEPT).date() <= day or first is None or _waiting(path, first):
        return
    path.unlink(missing_ok=True)
    AccessSpool.objects.filter(file_name=path.name).delete()
