"""The shade ladder's geometry: pure numbers, no drawing."""

from dataclasses import dataclass, replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from whitening.cases import ladder
from whitening.cases.ladder import ForeignReading, Ladder, lay_out
from whitening.shade.tabs import TABS


@dataclass(frozen=True)
class Reading:
    tab: str
    provisional: bool = False


def drawn(*codes: str) -> Ladder:
    return lay_out(tabs=TABS, readings=[Reading(code) for code in codes])


def test_it_works() -> None:
    result = drawn("A3", "B2", "D2")
    assert [point.rank for point in result.points] == [9, 3, 4]
    assert result.steps_lighter == 5
    assert result.path == "116,241 176,85 236,111"


def test_sixteen_rungs_the_lightest_on_top() -> None:
    rungs = drawn().rungs
    assert [rung.code for rung in rungs] == [tab.code for tab in TABS]
    assert [rung.rank for rung in rungs] == list(range(1, 17))
    assert [rung.y for rung in rungs] == sorted(rung.y for rung in rungs)
    assert rungs[0].code == "B1"


def test_rungs_never_touch() -> None:
    rungs = drawn("A1").rungs
    assert {below.y - above.y - ladder.RUNG for above, below in pairwise(rungs)} == {8}


@given(st.lists(st.sampled_from([tab.code for tab in TABS]), max_size=40))
def test_a_neutral_margin_of_24_on_every_side(codes: list[str]) -> None:
    result = drawn(*codes)
    for rung in result.rungs:
        assert rung.x >= ladder.SURROUND
        assert rung.y >= ladder.SURROUND
        assert result.width - (rung.x + rung.width) >= ladder.SURROUND
        assert result.height - (rung.y + ladder.RUNG) >= ladder.SURROUND


@given(st.lists(st.sampled_from([tab.code for tab in TABS]), min_size=1, max_size=40))
def test_each_reading_lies_on_its_own_rung_and_after_the_one_before(codes: list[str]) -> None:
    result = drawn(*codes)
    by_code = {rung.code: rung for rung in result.rungs}
    for code, point in zip(codes, result.points, strict=True):
        rung = by_code[code]
        assert point.y == rung.y + ladder.RUNG // 2
        assert rung.x + ladder.DOT_RADIUS <= point.x <= rung.x + rung.width - ladder.DOT_RADIUS
    xs = [point.x for point in result.points]
    assert all(later - earlier > 2 * ladder.DOT_RADIUS for earlier, later in pairwise(xs))


def test_it_fits_a_phone_with_four_readings() -> None:
    """390 px wide, less the page's margins of 16 px."""
    assert drawn("A3", "A3", "B2", "D2").width <= 358


def test_dry_teeth_are_drawn_hollow() -> None:
    result = lay_out(tabs=TABS, readings=[Reading("A3"), Reading("B1", provisional=True)])
    assert [point.hollow for point in result.points] == [False, True]


def test_one_reading_has_no_difference_and_none_has_no_path() -> None:
    assert drawn("A3").steps_lighter is None
    assert drawn().steps_lighter is None
    assert drawn().path == ""


def test_darker_is_negative() -> None:
    assert drawn("B1", "C4").steps_lighter == -15


def test_a_tab_of_another_guide_is_refused() -> None:
    with pytest.raises(ForeignReading, match="0M1"):
        drawn("A3", "0M1")


def test_colours_are_those_of_the_guide() -> None:
    painted = [replace(tab, hex="#808080") for tab in TABS]
    assert {rung.fill for rung in lay_out(tabs=painted, readings=[]).rungs} == {"#808080"}
