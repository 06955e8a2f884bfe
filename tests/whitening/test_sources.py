"""docs/sources.md explains every source key that the program uses, and how sure each is."""

import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
KEY = re.compile(r"\bS\d{2}\b")
SURE = {"seen", "reported", "from memory"}
# Data and wording, and the rules in code that name a source in a comment.
KINDS = ("*/data/**/*.toml", "*/data/**/*.csv", "**/*.py")


def listed() -> dict[str, str]:
    """Key and how sure it is, as the table of the page says."""
    rows = re.findall(r"^\| (S\d{2}) \|.*\| ([^|]+) \|$", (ROOT / "docs/sources.md").read_text(), re.MULTILINE)
    assert len(rows) == len(dict(rows)), "a key stands twice"
    return dict(rows)


def used() -> Iterator[tuple[str, Path]]:
    for kind in KINDS:
        for path in (ROOT / "whitening").glob(kind):
            for key in KEY.findall(path.read_text()):
                yield key, path.relative_to(ROOT)


def test_every_key_in_use_is_explained() -> None:
    keys = dict(used())
    # Two that are known to be there, so that an empty search cannot pass.
    assert keys.keys() >= {"S22", "S36"}
    assert {key: str(path) for key, path in keys.items() if key not in listed()} == {}


def test_each_says_how_sure_it_is() -> None:
    unsure = {key: said for key, said in listed().items() if said.partition(" (")[0] not in SURE}
    assert unsure == {}


def test_no_number_is_left_out() -> None:
    assert list(listed()) == [f"S{number:02}" for number in range(1, 53)]
