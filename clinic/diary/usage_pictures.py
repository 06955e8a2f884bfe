"""The pictures of how time was used: only numbers for a template to draw with. Every one stands beside its table."""

from collections.abc import Sequence
from dataclasses import dataclass

from clinic.diary.engine.confidence import Share
from clinic.diary.usage import Used, Week

BAR, GAP, HEIGHT = 14, 4, 36
WIDTH, MARGIN, AXIS_STEPS = 320, 12, (5, 10, 20, 50, 100)


@dataclass(frozen=True, slots=True)
class Bar:
    """A week: an outline as high as the picture for what was open, filled from below for what was booked."""

    week: Week
    x: int
    y: int
    height: int


@dataclass(frozen=True, slots=True)
class Bars:
    used: Used
    bars: Sequence[Bar]
    width: int
    height: int = HEIGHT
    bar: int = BAR


def bars(used: Used) -> Bars:
    """Of a week that was booked beyond its open hours the bar is full: the number beside it says how far."""
    drawn = [_bar(week, number) for number, week in enumerate(used.weeks)]
    return Bars(used, drawn, len(drawn) * (BAR + GAP) - GAP)


def _bar(week: Week, number: int) -> Bar:
    filled = round(HEIGHT * min(week.percent or 0, 100) / 100)
    return Bar(week, number * (BAR + GAP), HEIGHT - filled, filled)


@dataclass(frozen=True, slots=True)
class Interval:
    """A share as a dot on the line of its limits, from nothing to `most` percent."""

    share: Share
    low: int
    value: int
    high: int
    most: int
    middle: int = WIDTH // 2
    right: int = WIDTH - MARGIN
    left: int = MARGIN
    width: int = WIDTH


def interval(share: Share) -> Interval:
    most = next(step for step in AXIS_STEPS if share.high * 100 <= step)

    def x(part: float) -> int:
        return MARGIN + round((WIDTH - 2 * MARGIN) * part * 100 / most)

    return Interval(share, x(share.low), x(share.value), x(share.high), most)
