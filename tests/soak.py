"""What the tests in full size found, kept with the commit and the date they ran at: benchmarks/soak.json."""

import json
import subprocess
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
RECORD = ROOT / "benchmarks" / "soak.json"
# Set before any test is read; what Hypothesis is told stands above the tests, where no fixture reaches.
is_whole = False


def examples(few: int, whole: int) -> int:
    """How many Hypothesis tries: all of them in `make soak`."""
    return whole if is_whole else few


def write(figures: dict[str, dict[str, object]], *, database: str, at: datetime) -> None:
    """One entry per test and database; a later run replaces it."""
    commit = subprocess.run(["git", "rev-parse", "HEAD"], check=True, capture_output=True, text=True, cwd=ROOT)
    kept = {(row["test"], row["database"]): row for row in json.loads(RECORD.read_text())} if RECORD.exists() else {}
    for test, found in figures.items():
        run = {"commit": commit.stdout.strip(), "date": at.astimezone(UTC).date().isoformat()}
        kept[test, database] = {"test": test, "database": database, **run, "figures": found}
    RECORD.write_text(json.dumps([kept[key] for key in sorted(kept)], indent=1) + "\n")
