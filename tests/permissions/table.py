"""Every address of the product × method × role × site, as data: one line per address.

The lines stand in tests/permissions/rows/, one file per part of the product. A test walks the
resolver, so that an address without a line, or a line without an address, fails.
"""

from importlib import import_module
from pathlib import Path

from tests.permissions.row import Row

PARTS = sorted(path.stem for path in (Path(__file__).parent / "rows").glob("[a-z]*.py"))


def rows() -> list[Row]:
    return [row for part in PARTS for row in import_module(f"tests.permissions.rows.{part}").ROWS]
