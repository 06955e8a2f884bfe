"""What may be kept as a signature: vector strokes in the box, in order of time, large enough to be meant."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.whitening.course import STROKES
from whitening.consent.forms import SignForm
from whitening.consent.rules import MILLISECONDS_MOST, POINTS_MOST, STROKES_MOST, check_strokes, is_drawn

PHOTOGRAPHS = {f"photo_{use}": "no" for use in ("record", "teaching", "publication", "public")}

REFUSED = {
    "no list": "abc",
    "a dictionary": {"0": [[1, 2, 3]]},
    "nothing": None,
    "a stroke that is no list": [[[1, 2, 3]], "x"],
    "a stroke that is a number": [7],
    "a point that is no list": [["x"]],
    "two numbers": [[[1, 2]]],
    "four numbers": [[[1, 2, 3, 4]]],
    "text for a number": [[["1", 2, 3]]],
    "a fraction": [[[1.5, 2, 3]]],
    "true for a number": [[[True, 2, 3]]],
    "left of the box": [[[-1, 2, 3]]],
    "right of the box": [[[1001, 2, 3]]],
    "above the box": [[[1, -1, 3]]],
    "below the box": [[[1, 301, 3]]],
    "before it began": [[[1, 2, -1]]],
    "after an hour": [[[1, 2, MILLISECONDS_MOST + 1]]],
    "time runs backwards in a stroke": [[[1, 2, 30], [2, 3, 20]]],
    "time runs backwards between strokes": [[[1, 2, 30]], [[2, 3, 20]]],
    "too many strokes": [[[1, 2, 3]]] * (STROKES_MOST + 1),
    "too many points": [[[1, 2, 3]] * (POINTS_MOST + 1)],
}


@pytest.mark.parametrize("raw", REFUSED.values(), ids=REFUSED.keys())
def test_refused(raw: object) -> None:
    with pytest.raises(ValueError, match=r".+"):
        check_strokes(raw)


@pytest.mark.parametrize(("raw", "kept"), [
    ([], []),
    ([[]], []),
    (STROKES, STROKES),
    ([[[0, 0, 0], [1000, 300, MILLISECONDS_MOST]]], [[[0, 0, 0], [1000, 300, MILLISECONDS_MOST]]]),
    ([[], [[5, 5, 5]], []], [[[5, 5, 5]]]),
])  # fmt: skip
def test_kept(raw: object, kept: object) -> None:
    assert check_strokes(raw) == kept


@pytest.mark.parametrize(("strokes", "drawn"), [
    ([], False),
    ([[[500, 150, 0]]], False),
    ([[[500, 150, 0], [529, 179, 5]]], False),
    # A cross is a signature.
    ([[[500, 150, 0], [530, 150, 5]], [[515, 140, 9], [515, 160, 12]]], True),
    ([[[500, 100, 0], [500, 130, 5]]], True),
    # Two dots far from each other: a reach, made of two touches.
    ([[[100, 150, 0]], [[400, 150, 90]]], True),
])  # fmt: skip
def test_large_enough_to_be_meant(strokes: list[list[list[int]]], drawn: bool) -> None:
    assert is_drawn(strokes) is drawn


POINTS = st.tuples(st.integers(0, 1000), st.integers(0, 300), st.integers(0, MILLISECONDS_MOST)).map(list)


@given(st.lists(st.lists(POINTS, max_size=8), max_size=8))
def test_anything_in_the_box_and_in_order_is_kept_as_it_is(strokes: list[list[list[int]]]) -> None:
    times = iter(sorted(point[2] for stroke in strokes for point in stroke))
    ordered = [[[x, y, next(times)] for x, y, _ms in stroke] for stroke in strokes]
    kept = check_strokes(json.loads(json.dumps(ordered)))
    assert kept == [stroke for stroke in ordered if stroke]
    assert check_strokes(kept) == kept


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=12,
)


@given(JSON)
def test_anything_else_is_refused_and_never_breaks(raw: object) -> None:
    try:
        kept = check_strokes(raw)
    except ValueError:
        return
    for stroke in kept:
        for x, y, ms in stroke:
            assert (type(x), type(y), type(ms)) == (int, int, int)
            assert (0 <= x <= 1000, 0 <= y <= 300, 0 <= ms <= MILLISECONDS_MOST) == (True, True, True)


@pytest.mark.parametrize(
    "raw", ["{", "[[[1,2,NaN]]]", "[" * 100_000, '[[["' + "9" * 5000 + '",1,1]]]', "[[[1e400,1,1]]]"]
)
def test_what_the_form_cannot_read_is_a_sentence(raw: str) -> None:
    form = SignForm({"seen_sha256": "0" * 64, "strokes": raw} | PHOTOGRAPHS)
    assert not form.is_valid()
    assert form.non_field_errors() == ["The signature could not be read. Please sign again."]
