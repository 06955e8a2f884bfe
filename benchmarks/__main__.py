"""Measures every figure, or those of one subject: `make bench`, `make bench NAME=pages`.

Writes benchmarks/results.json. A figure that misses its target stays in it: the page says what is, not what we wish.
"""

import argparse
import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import django
from django.conf import settings
from rich.console import Console
from rich.table import Table

from benchmarks import diary, documents, messages, pages, search, sessions, sheets
from benchmarks.frame import Result
from tests import environment

RESULTS = Path(__file__).with_name("results.json")
# One subject each; it yields its results one by one, so that its own processes live exactly as long.
SUBJECTS: dict[str, Callable[[], Iterator[Result]]] = {
    "diary": diary.results,
    "documents": documents.results,
    "messages": messages.results,
    "pages": pages.results,
    "patients": search.results,
    "sessions": sessions.results,
    "sheets": sheets.results,
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name", nargs="?", choices=sorted(SUBJECTS), help="one subject only")
    wanted = parser.parse_args().name
    with tempfile.TemporaryDirectory(prefix="casebook-bench-") as folder:
        environment.prepare(var_dir=Path(folder), database_url=environment.sqlite_url(Path(folder)))
        # In the benchmark only: its search box is a yardstick.
        settings.INSTALLED_APPS = [*settings.INSTALLED_APPS, "django.contrib.admin"]
        # Pages that are drawn in this process need no collected files.
        plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
        settings.STORAGES = settings.STORAGES | {"staticfiles": plain}
        django.setup()
        measured = [result for name in ([wanted] if wanted else SUBJECTS) for result in SUBJECTS[name]()]
    show(measured)
    write(measured)
    return 0


def show(measured: list[Result]) -> None:
    table = Table(title="Figures beside their yardsticks (medians)")
    for heading in ("figure", "value", "yardstick", "value", "ratio", "target", "holds"):
        table.add_column(heading, justify="right" if heading in {"value", "ratio"} else "left")
    for each in measured:
        values = (f"{each.value:g} {each.unit}", each.yardstick, f"{each.yardstick_value:g} {each.unit}")
        verdict = "" if each.target == "reported" else "yes" if each.holds else "NO"
        table.add_row(each.name, *values, f"{each.ratio:g}", each.target, verdict)
    Console().print(table)


def write(measured: list[Result]) -> None:
    """What was not measured this time keeps its last figure."""
    kept = {row["name"]: row for row in json.loads(RESULTS.read_text())} if RESULTS.exists() else {}
    rows = kept | {each.name: each.row() for each in measured}
    RESULTS.write_text(json.dumps([rows[name] for name in sorted(rows)], indent=1) + "\n")


if __name__ == "__main__":
    sys.exit(main())
