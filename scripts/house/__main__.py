"""Checks every tracked or new file of the repository against the house rules: `python -m scripts.house`."""

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from scripts.house import python, styles, templates
from scripts.house.breach import Breach

MOST_FILE_LINES = 400
MEASURED = {".py", ".html", ".css", ".js"}


def files() -> list[Path]:
    listing = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    names = subprocess.run(listing, check=True, capture_output=True, text=True).stdout.splitlines()
    return [path for path in map(Path, names) if path.is_file() and "migrations" not in path.parts]


def breaches(path: Path, text: str) -> Iterator[Breach]:
    if path.suffix in MEASURED and text.count("\n") > MOST_FILE_LINES:
        yield Breach(path, MOST_FILE_LINES, f"A file has at most {MOST_FILE_LINES} lines; split it by subject.")
    if path.suffix == ".py":
        yield from python.breaches(path, text)
    elif path.suffix == ".css":
        yield from styles.style_breaches(path, text)
    elif path.suffix == ".js":
        yield from styles.browser_breaches(path, text)
    elif "templates" in path.parts and path.suffix in {".html", ".txt"}:
        yield from templates.breaches(path, text)


def main() -> int:
    found = sorted(
        each for path in files() if path.suffix in MEASURED | {".txt"} for each in breaches(path, path.read_text())
    )
    for each in found:
        print(each)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
