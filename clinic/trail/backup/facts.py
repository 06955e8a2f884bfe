"""What must be equal in a database and in its restored copy."""

import json
from dataclasses import asdict, dataclass, field
from typing import Any

from clinic.trail import rows

FORM = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    row_counts: dict[str, int]
    migrations: tuple[str, ...]
    head_position: int = 0
    head_hash: str = rows.GENESIS


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """Stands last in the archive; everything before it is named here with its SHA-256."""

    made_at: str
    vendor: str
    facts: Facts
    sha256: dict[str, str] = field(default_factory=dict)

    def as_bytes(self) -> bytes:
        return json.dumps({"form": FORM, **asdict(self)}, sort_keys=True, indent=1).encode()


def manifest_from(content: bytes) -> Manifest:
    stated = json.loads(content)
    if stated.pop("form") != FORM:
        raise ValueError("The manifest is of another form.")
    facts = stated.pop("facts")
    return Manifest(facts=Facts(**facts | {"migrations": tuple(facts["migrations"])}), **stated)


def gather(cursor: Any, tables: list[str]) -> Facts:
    """Through a plain DB-API cursor, so that it reads a snapshot and a copy alike."""
    counts = {}
    for table in sorted(tables):
        cursor.execute(f'SELECT count(*) FROM "{table}"')  # noqa: S608  (names from the catalogue)
        counts[table] = cursor.fetchone()[0]
    cursor.execute("SELECT app, name FROM django_migrations ORDER BY app, name")
    migrations = tuple(f"{app}.{name}" for app, name in cursor.fetchall())
    cursor.execute("SELECT position, row_hash FROM trail_seal ORDER BY position DESC LIMIT 1")
    head = cursor.fetchone()
    if head is None:
        return Facts(row_counts=counts, migrations=migrations)
    return Facts(row_counts=counts, migrations=migrations, head_position=head[0], head_hash=head[1])
