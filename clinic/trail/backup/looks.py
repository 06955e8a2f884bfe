"""The looks at a restored copy: each says in words what is wrong, or nothing.

They go through a second connection, `restored`, with the same code that the site itself uses.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import connections
from django.db.migrations.loader import MigrationLoader
from django.utils.translation import gettext as _

from clinic.trail import guards, keys
from clinic.trail.backup import files
from clinic.trail.backup.engines import Engine
from clinic.trail.backup.making import lacking
from clinic.trail.backup.unpacking import Unpacked
from clinic.trail.models import TrailEntry
from clinic.trail.verify import verify

ALIAS = "restored"
NAMED = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    unpacked: Unpacked
    engine: Engine
    settings: dict[str, Any]


Look = Callable[[Copy], str]


def all_looks() -> dict[str, Look]:
    return {
        _("Every table has its rows, and the head is the same"): facts_that_differ,
        _("It fits this version of the casebook"): migrations_that_differ,
        _("Every guard stands"): guards_missing,
        _("The trail holds"): findings,
        _("Every file that is referred to is there"): files_lacking,
        _("Every value has its key"): keys_missing,
    }


@contextmanager
def connected(copy: Copy) -> Iterator[None]:
    connections.databases[ALIAS] = copy.settings
    try:
        yield
    finally:
        connections[ALIAS].close()
        del connections[ALIAS]
        del connections.databases[ALIAS]


def facts_that_differ(copy: Copy) -> str:
    stated, found = copy.unpacked.manifest.facts, copy.engine.facts(copy.settings)
    tables = stated.row_counts.keys() | found.row_counts.keys()
    differing = [
        f"{table}: {found.row_counts.get(table)} ≠ {stated.row_counts.get(table)}"
        for table in sorted(tables)
        if found.row_counts.get(table) != stated.row_counts.get(table)
    ]
    if (found.head_position, found.head_hash) != (stated.head_position, stated.head_hash):
        differing.append(f"head: {found.head_position} ≠ {stated.head_position}")
    return _named(differing)


def migrations_that_differ(copy: Copy) -> str:
    loader = MigrationLoader(None, load=False)
    loader.load_disk()
    ours = {f"{app}.{name}" for app, name in loader.disk_migrations}
    theirs = set(copy.unpacked.manifest.facts.migrations)
    if newer := theirs - ours:
        return _("It was made by a newer version: %(names)s") % {"names": _named(sorted(newer))}
    if older := ours - theirs:
        return _("It was made by an older version; check it with that one. It lacks: %(names)s") % {
            "names": _named(sorted(older))
        }
    return ""


def guards_missing(_copy: Copy) -> str:
    return _named(sorted(guards.missing(ALIAS)))


def findings(copy: Copy) -> str:
    report = verify(anchor_dir=copy.unpacked.folder / "anchors", using=ALIAS)
    if report.last_anchor is None:
        return _("The archive holds no head of the trail.")
    return _named([str(finding) for finding in report.findings.kept])


def files_lacking(copy: Copy) -> str:
    # By what came out of the archive, not by what the manifest says.
    return _named(list(lacking(copy.unpacked.sha256, files.referenced(ALIAS))))


def keys_missing(_copy: Copy) -> str:
    """Against the keys of this machine: without them a restored trail cannot be read."""
    entries = TrailEntry.objects.using(ALIAS).order_by("patient_id", "values_key")
    holders = entries.values_list("patient_id", "values_key").distinct().iterator(2_000)
    missing = sum(1 for patient_id, key_id in holders if not _is_known(patient_id, key_id))
    return _("Keys that are not in KEYS_DIR: %(count)d") % {"count": missing} if missing else ""


def _is_known(patient_id: int | None, key_id: str) -> bool:
    key = keys.find(patient_id)
    return (key is not None and key.id == key_id) or key_id in keys.destroyed(patient_id)


def _named(things: list[str]) -> str:
    more = f" (+{len(things) - NAMED})" if len(things) > NAMED else ""
    return "; ".join(things[:NAMED]) + more
