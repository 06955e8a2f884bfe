"""Limits of a share against published worked examples, and what is drawn of them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.engine.confidence import Share, share
from clinic.diary.usage_pictures import MARGIN, WIDTH, interval


# Newcombe (1998), Stat Med 17:857, Table I: the score method without continuity correction (after Wilson).
@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_published_examples(count: int, of: int, low: float, high: float) -> None:
    found = share(count, of)
    assert (round(found.low, 4), round(found.high, 4)) == (low, high)


def test_of_nothing_nothing_is_said() -> None:
    assert share(0, 0) == Share(0, 0, 0.0, 1.0)
    assert share(0, 0).value == 0.0


@given(st.integers(1, 400).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_the_share_lies_between_its_limits_and_on_the_picture(counted: tuple[int, int]) -> None:
    found = share(*counted)
    assert 0 <= found.low <= found.value <= found.high <= 1
    drawn = interval(found)
    assert MARGIN <= drawn.low <= drawn.value <= drawn.high <= WIDTH - MARGIN
    # Less would do on a smaller axis, so that small shares can be told apart.
    assert drawn.most == 5 or found.high * 100 > {10: 5, 20: 10, 50: 20, 100: 50}[drawn.most]
