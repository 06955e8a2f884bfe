"""The 16-tab guide. Order: as printed with its numbers in a thesis chapter (1library.org article 4yr19jvq)."""

from itertools import pairwise

import pytest

from tests.data import rows
from whitening.shade.tabs import (
    CLASSICAL_16,
    DATA,
    TABS,
    GuideRefused,
    UnknownGuide,
    UnknownTab,
    guide,
    rank,
    read_guide,
)


def test_value_order_as_published() -> None:
    published = {row["tab"]: int(row["rank_value_order"]) for row in rows("shade_rank_16.csv")}
    assert {tab.code: tab.rank for tab in TABS} == published
    assert " ".join(tab.code for tab in TABS) == "B1 A1 B2 D2 A2 C1 C2 D4 A3 D3 B3 A3.5 B4 C3 A4 C4"


def test_another_order_in_print_is_why_the_order_is_data() -> None:
    """A dental laboratory's list (as retrieved) swaps three pairs: A1/B1, D3/D4, A4/C3."""
    other = {row["tab"]: int(row["rank_alt_lab"]) for row in rows("shade_rank_16.csv")}
    assert {tab.code for tab in TABS if other[tab.code] != tab.rank} == {"A1", "B1", "D3", "D4", "A4", "C3"}


def test_lightness_does_not_follow_the_order() -> None:
    """Nothing may lean on L* falling with the rank: on the recalled colours five of fifteen steps rise."""
    assert sum(darker.lab.lightness > lighter.lab.lightness for lighter, darker in pairwise(TABS)) == 5


@pytest.mark.parametrize(("tab", "place"), [("B1", 1), ("A3.5", 12), ("C4", 16)])
def test_rank(tab: str, place: int) -> None:
    assert rank(tab) == place


def test_every_tab_says_how_good_its_source_is() -> None:
    assert {(tab.order_quality, tab.colour_quality) for tab in TABS} == {("seen", "from memory")}
    assert all(len(tab.hex) == 7 and tab.hex.startswith("#") for tab in TABS)
    assert len({tab.hex for tab in TABS}) == 16


def test_guide_by_code() -> None:
    assert guide("classical-16") is CLASSICAL_16
    assert CLASSICAL_16.version == "1"
    with pytest.raises(UnknownGuide):
        guide("extended")
    with pytest.raises(UnknownTab):
        CLASSICAL_16.tab("A9")


@pytest.mark.parametrize(
    ("old", "new"),
    [("\n2,A1,", "\n3,A1,"), ("\n2,A1,", "\n2,B1,"), ("1library.org 4yr19jvq,seen", ",seen")],
    ids=["gap in the ranks", "a tab twice", "no source"],
)
def test_a_faulty_file_is_refused(old: str, new: str) -> None:
    text = (DATA / "guide_16.csv").read_text(encoding="utf-8")
    assert old in text
    with pytest.raises(GuideRefused):
        read_guide(code="faulty", version="1", lines=text.replace(old, new, 1).splitlines())
