"""A figure is judged by its own target, beside its yardstick; full-size runs are written down."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from benchmarks.documents import SIZES, OtherSize, counted, page_of
from benchmarks.frame import ANY, Figure, Target
from tests import soak

SHAPE = ["name", "value", "unit", "yardstick", "yardstick_value", "ratio", "target", "holds", "size"]


def figure(target: Target) -> Figure:
    return Figure(
        name="counting",
        run=lambda: sum(range(20_000)),
        yardstick="counting less",
        yardstick_run=lambda: sum(range(2_000)),
        target=target,
        size={"numbers": 20_000},
    )


def test_a_result_has_the_agreed_shape() -> None:
    row = figure(Target(limit=1_000, of="ratio")).measure().row()
    assert list(row) == SHAPE
    assert row["target"] == "<= 1000"
    assert row["holds"] is True


def test_a_miss_is_said() -> None:
    result = figure(Target(limit=0, of="value")).measure()
    assert (result.target, result.holds) == ("<= 0 ms", False)
    assert figure(Target(limit=ANY, of="ratio")).measure().target == "reported"


def test_a_full_size_run_is_written_down(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(soak, "RECORD", tmp_path / "soak.json")
    for overlaps in (1, 0):
        soak.write({"test_race": {"overlaps": overlaps}}, database="sqlite", at=datetime(2026, 3, 3, tzinfo=UTC))
    (row,) = json.loads((tmp_path / "soak.json").read_text())
    assert row["figures"] == {"overlaps": 0}
    assert row["date"] == "2026-03-03"
    assert len(row["commit"]) == 40


def test_a_sheet_has_the_pages_that_its_figure_says() -> None:
    """Sixty pages are counted when they are measured: drawing them takes as long as many tests together."""
    for _name, pages, rows, _limit in [size for size in SIZES if size[1] < 10]:
        assert counted(page_of(rows), pages) == pages
    with pytest.raises(OtherSize, match="1 pages instead of 2"):
        counted(page_of(12), 2)
