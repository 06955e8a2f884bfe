"""The shade ladder: where its rungs, and the patient's path across them, stand in the drawing.

Sixteen rungs, the lightest on top. The reading of each day has a column of its own, the first one
where reading starts; steps between rungs are drawn equal although those of the guide are not, which
the page says beside it. Lengths are in the drawing's own units, one unit a CSS pixel at full size.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

# Nothing coloured may come nearer than this to a shade (the house rule for judging shades).
SURROUND = 24
LABEL = 62
COLUMN = 60
NARROW_COLUMN = 44
MANY_READINGS = 6
FEWEST_COLUMNS = 3
RUNG = 18
PITCH = 26
RAIL = 5
DATES = 28
DOT_RADIUS = 8


class TabLike(Protocol):
    @property
    def code(self) -> str: ...
    @property
    def rank(self) -> int: ...
    @property
    def hex(self) -> str: ...


class ReadingLike(Protocol):
    @property
    def tab(self) -> str: ...
    @property
    def provisional(self) -> bool: ...


class ForeignReading(ValueError):
    """A reading names a tab that this guide does not have."""


@dataclass(frozen=True, kw_only=True)
class Rung:
    rank: int
    code: str
    fill: str
    x: int
    y: int
    width: int
    text_y: int


@dataclass(frozen=True, kw_only=True)
class Point:
    """One reading. It is drawn hollow while the teeth were dry, because such a shade is provisional."""

    number: int
    rank: int
    x: int
    y: int
    hollow: bool
    reading: ReadingLike


@dataclass(frozen=True, kw_only=True)
class Ladder:
    width: int
    height: int
    rungs: tuple[Rung, ...]
    points: tuple[Point, ...]
    # Corner points of the path, as the `points` attribute of an SVG polyline.
    path: str
    rails: tuple[int, int]
    rail_top: int
    rail_height: int
    date_y: int

    @property
    def steps_lighter(self) -> int | None:
        """From the first reading to the last; more is lighter. One reading alone has no difference."""
        if len(self.points) < 2:
            return None
        return self.points[0].rank - self.points[-1].rank


def lay_out(*, tabs: Sequence[TabLike], readings: Sequence[ReadingLike]) -> Ladder:
    """`tabs` in the guide's order and `readings` in the order of time, all of this one guide."""
    column = COLUMN if len(readings) <= MANY_READINGS else NARROW_COLUMN
    start = SURROUND + LABEL
    across = column * max(len(readings), FEWEST_COLUMNS)
    rungs = tuple(_rung(tab, x=start, width=across) for tab in tabs)
    points = _points(rungs, readings=readings, start=start, column=column)
    rail_height = PITCH * len(tabs) - (PITCH - RUNG) + 2 * RAIL
    bottom = SURROUND - RAIL + rail_height
    return Ladder(
        width=start + across + RAIL + SURROUND,
        height=bottom + DATES + SURROUND // 2,
        rungs=rungs,
        points=points,
        path=" ".join(f"{point.x},{point.y}" for point in points),
        rails=(start - RAIL, start + across),
        rail_top=SURROUND - RAIL,
        rail_height=rail_height,
        date_y=bottom + DATES - 8,
    )


def _rung(tab: TabLike, *, x: int, width: int) -> Rung:
    y = SURROUND + (tab.rank - 1) * PITCH
    return Rung(rank=tab.rank, code=tab.code, fill=tab.hex, x=x, y=y, width=width, text_y=y + RUNG - 5)


def _points(rungs: Sequence[Rung], *, readings: Sequence[ReadingLike], start: int, column: int) -> tuple[Point, ...]:
    by_code = {rung.code: rung for rung in rungs}
    foreign = [reading.tab for reading in readings if reading.tab not in by_code]
    if foreign:
        raise ForeignReading(", ".join(foreign))
    return tuple(
        Point(
            number=number,
            rank=by_code[reading.tab].rank,
            x=start + column * number - column // 2,
            y=by_code[reading.tab].y + RUNG // 2,
            hollow=reading.provisional,
            reading=reading,
        )
        for number, reading in enumerate(readings, 1)
    )
