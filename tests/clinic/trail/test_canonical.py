"""The one text of a value: what every digest and seal rests on."""

from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal
from enum import StrEnum
from uuid import UUID

import pytest
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy
from hypothesis import given
from hypothesis import strategies as st

from clinic.trail import canonical

Plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


class Grade(StrEnum):
    STOP = "stop"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, "null"),
        (True, "true"),
        (1, "1"),
        (0.1, "0.1"),
        ("ñ\n\0", '"\\u00f1\\n\\u0000"'),
        ("\ud800", '"\\ud800"'),
        (Decimal("6.00"), '"6.00"'),
        (Grade.STOP, '"stop"'),
        (gettext_lazy("Trail"), '"Trail"'),
        (mark_safe("<b>"), '"<b>"'),
        (date(2027, 2, 28), '"2027-02-28"'),
        (time(9, 5), '"09:05:00"'),
        (timedelta(minutes=20), '"1200.0 s"'),
        (UUID(int=1), '"00000000-0000-0000-0000-000000000001"'),
        (datetime(2027, 3, 1, 9, tzinfo=UTC), '"2027-03-01T09:00:00.000000+00:00"'),
        ((1, [2, {"b": 1, "a": ()}]), '[1,[2,{"a":[],"b":1}]]'),
    ],
)
def test_it_works(value: object, text: str) -> None:
    assert canonical.text(canonical.plain(value)) == text


@pytest.mark.parametrize("value", [object(), {1}, b"x", datetime(2027, 3, 1), {1: 1}, 1j])  # noqa: DTZ001
def test_what_has_no_form_is_refused(value: object) -> None:
    with pytest.raises(TypeError):
        canonical.plain(value)


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        canonical.text(value)


@given(st.datetimes(timezones=st.just(UTC)), st.integers(-14, 14))
def test_one_instant_has_one_text_in_every_zone(at: datetime, hours: int) -> None:
    try:
        elsewhere = at.astimezone(timezone(timedelta(hours=hours)))
    except OverflowError:
        return
    assert canonical.instant(elsewhere) == canonical.instant(at)


@given(Plain, Plain)
def test_equal_texts_mean_equal_values(one: canonical.Plain, other: canonical.Plain) -> None:
    same = canonical.text(one) == canonical.text(other)
    # 1 and True and 1.0 are equal in Python and different on paper, so only one direction is asked of them.
    assert not same or one == other
    assert canonical.text(canonical.plain(one)) == canonical.text(one)


@given(st.dictionaries(st.text(), st.integers(), min_size=2))
def test_the_order_of_keys_does_not_matter(value: dict[str, int]) -> None:
    backwards = dict(reversed(value.items()))
    assert canonical.text(canonical.plain(value)) == canonical.text(canonical.plain(backwards))
