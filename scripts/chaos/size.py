"""How much of everything a run has: all of it in ten minutes, a bounded part of it in one."""

from dataclasses import dataclass
from typing import Literal

Engine = Literal["postgres", "sqlite"]
FULL_SECONDS = 600
# Below this the run is a bounded one, on one engine unless both are asked for.
LEAST_FOR_BOTH = 300
# Of a full run; what is left of its ten minutes is setting up, and letting the rest go out in peace.
_STORM = {"postgres": 400, "sqlite": 120}
_ROWS = {"postgres": 10_000, "sqlite": 2_000}
KILL_EVERY_SECONDS = 2.4
# Where other work goes on beside it, whoever fell takes longer to come back.
KILL_EVERY_SECONDS_BOUNDED = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    engine: Engine
    rows: int
    # How long things are broken.
    seconds: float
    kills: int

    @property
    def hurried_seconds(self) -> int:
        """How long some of the messages are good for: an outage makes them miss their time."""
        return max(3, round(self.seconds / 30))


def sizes(*, seconds: int, engines: list[Engine]) -> list[Size]:
    """Parts of a full run in proportion; a bounded one spends two thirds of its time in the storm."""
    if seconds >= FULL_SECONDS:
        return [_size(one, _ROWS[one], _STORM[one], KILL_EVERY_SECONDS) for one in engines]
    share, storm = seconds / FULL_SECONDS, seconds * 2 / 3 / len(engines)
    return [_size(one, max(100, round(_ROWS[one] * share)), storm, KILL_EVERY_SECONDS_BOUNDED) for one in engines]


def _size(engine: Engine, rows: int, seconds: float, kill_every: float) -> Size:
    return Size(engine=engine, rows=rows, seconds=seconds, kills=round(seconds / kill_every))


def engines_for(seconds: int) -> list[Engine]:
    return ["postgres", "sqlite"] if seconds >= LEAST_FOR_BOTH else ["postgres"]
