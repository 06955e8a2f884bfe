"""How long the stretches of a session took, from its log; and what is usual, against NumPy's own quantile."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import count

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cast import NOW
from whitening.chairside.protocol.choices import Choice, Difference
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.payloads import (
    Decided,
    EndedEarly,
    GelOff,
    GelOn,
    Payload,
    Person,
    Rinsed,
    Sensitivity,
    TakeOffNow,
    Undo,
    WrittenLater,
)
from whitening.chairside.protocol.timing import LEFT_OPEN_MINUTES, NEWEST, Measure, Summary, lengths, usual

START, CYCLE, FINISH = Measure.START, Measure.CYCLE, Measure.FINISH


def minute(number: float) -> datetime:
    return NOW + timedelta(minutes=number)


def log(*entries: tuple[float, Payload]) -> list[Event]:
    numbers = count(1)
    return [
        Event(
            seq=(seq := next(numbers)),
            payload=payload,
            happened_at=minute(at),
            recorded_at=minute(at),
            actor_id="7",
            actor_name="Cleo Haddad",
            client_id=f"tap-{seq}",
        )
        for at, payload in entries
    ]


def cycle(number: int, at: float) -> list[tuple[float, Payload]]:
    """Gel on, off after 15 minutes, rinsed, asked about, decided two minutes later."""
    ends = at + 15
    return [
        (at, GelOn(cycle=number, mix=1)),
        (ends, GelOff()),
        (ends + 1, Rinsed()),
        (ends + 1.5, Sensitivity(score=1)),
        (ends + 2, Decided(choice=Choice.ONE_MORE)),
    ]


def measured(events: Sequence[Event], closed: float = 90, planned: int = 15) -> dict[Measure, float]:
    return lengths(events, opened_at=minute(0), closed_at=minute(closed), planned_minutes=planned)


TWO = [*cycle(1, 30), *cycle(2, 52)]


def test_the_three_stretches() -> None:
    """Opened at 0, first gel at 30, decided at 69, closed at 90."""
    assert measured(log(*TWO)) == {START: 30, CYCLE: 4.5, FINISH: 21}


@pytest.mark.parametrize(("planned", "besides"), [(10, 9.5), (15, 4.5), (19, 0.5), (20, 0), (30, 0)])
def test_of_a_cycle_only_what_comes_on_top_of_its_plan(planned: int, besides: float) -> None:
    """19.5 minutes from gel to gel: who stopped before the planned minutes were over needed nothing besides."""
    assert measured(log(*TWO), planned=planned)[CYCLE] == besides


SOMEBODY = Person(id=7, name="Cleo Haddad")
LATER = WrittenLater(seen_by=SOMEBODY, written_by=SOMEBODY, seen_at=NOW, written_at=NOW)


@pytest.mark.parametrize("more", [TakeOffNow(), LATER, EndedEarly(difference=Difference.LEFT)])
def test_a_session_that_was_broken_off_says_nothing(more: Payload) -> None:
    assert measured(log(*TWO, (70, more))) == {}


def test_no_gel_says_nothing() -> None:
    assert measured([]) == {}
    assert measured(log((10, Rinsed()))) == {}


def test_what_was_taken_back_does_not_count() -> None:
    events = log((10, GelOn(cycle=1, mix=1)), (11, Undo(seq=1)), *TWO)
    assert measured(events)[START] == 30
    assert measured(log(*TWO, (80, TakeOffNow()), (81, Undo(seq=11)))) == {START: 30, CYCLE: 4.5, FINISH: 21}


def test_a_log_that_was_left_open_says_nothing_about_that_stretch() -> None:
    assert set(measured(log(*TWO), closed=69 + LEFT_OPEN_MINUTES)) == {START, CYCLE, FINISH}
    assert set(measured(log(*TWO), closed=70 + LEFT_OPEN_MINUTES)) == {START, CYCLE}
    assert set(measured(log(*TWO), closed=69)) == {START, CYCLE}


@pytest.mark.parametrize(
    ("values", "measure", "found"),
    [
        # Nine of eleven lie within fifteen minutes: the ninth is the first that 80 % do not exceed.
        ([8, 9, 10, 10, 11, 12, 12, 13, 14, 19, 40], FINISH, Summary(15, 9, 11)),
        ([11], START, Summary(15, 1, 1)),
        ([15] * 8, START, Summary(15, 8, 8)),
        ([15.01] * 8, START, Summary(20, 8, 8)),
        # A tenth of ten is no rounding matter: eight of ten, not nine.
        (list(range(1, 11)), CYCLE, Summary(8, 8, 10)),
        ([16.2] * 8, CYCLE, Summary(17, 8, 8)),
        ([0.4] * 9, CYCLE, Summary(1, 9, 9)),
    ],
)
def test_usual(values: list[float], measure: Measure, found: Summary) -> None:
    assert usual(values, measure) == found


@given(
    values=st.lists(st.floats(0.05, LEFT_OPEN_MINUTES), min_size=1, max_size=NEWEST), measure=st.sampled_from(Measure)
)
def test_the_quantile_is_the_inverse_of_the_empirical_distribution(values: list[float], measure: Measure) -> None:
    """Definition 1 of Hyndman and Fan, which NumPy calls inverted_cdf; rounded up, so never fewer than 80 %."""
    found = usual(values, measure)
    quantile = float(np.quantile(values, 0.8, method="inverted_cdf"))
    step = 1 if measure is CYCLE else 5
    assert found.minutes % step == 0
    assert quantile <= found.minutes < quantile + step
    assert found.within == sum(value <= found.minutes for value in values)
    assert 10 * found.within >= 8 * found.sessions == 8 * len(values)
    # One step less would leave more than a fifth outside.
    assert 10 * sum(value <= found.minutes - step for value in values) < 8 * len(values)
