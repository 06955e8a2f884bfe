"""Steps lighter, positive = lighter. Examples computed on the published order."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from whitening.shade.steps import GuidesDiffer, Reading, most_steps, steps_lighter
from whitening.shade.tabs import TABS, UnknownGuide

TAB = st.sampled_from([tab.code for tab in TABS])


def read(tab: str) -> Reading:
    return Reading("classical-16", tab)


@pytest.mark.parametrize(
    ("before", "after", "steps"),
    [
        ("A3.5", "A1", 10),
        ("A3", "B1", 8),
        ("A2", "B1", 4),
        ("C4", "A1", 14),
        ("C4", "B1", 15),
        # The thesis counts this one final minus initial: 3 - 16 = -13. The sign here is the other one.
        ("C4", "B2", 13),
        ("A1", "A3", -7),
        ("D3", "D3", 0),
    ],
)
def test_steps_lighter(before: str, after: str, steps: int) -> None:
    assert steps_lighter(before=read(before), after=read(after)) == steps


@given(TAB, TAB)
def test_back_is_the_opposite_and_never_beyond_the_guide(one: str, other: str) -> None:
    there = steps_lighter(before=read(one), after=read(other))
    assert there == -steps_lighter(before=read(other), after=read(one))
    assert -15 <= there <= most_steps(read(one)) <= 15


@given(TAB, TAB, TAB)
def test_two_stretches_add_up(one: str, two: str, three: str) -> None:
    whole = steps_lighter(before=read(one), after=read(three))
    assert whole == steps_lighter(before=read(one), after=read(two)) + steps_lighter(
        before=read(two), after=read(three)
    )


def test_the_lightest_tab_cannot_gain() -> None:
    assert most_steps(read("B1")) == 0


def test_guides_never_mix() -> None:
    with pytest.raises(GuidesDiffer):
        steps_lighter(before=read("A3"), after=Reading("extended-29", "15"))
    with pytest.raises(UnknownGuide):
        steps_lighter(before=Reading("extended-29", "15"), after=Reading("extended-29", "13"))
