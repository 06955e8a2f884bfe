"""What a figure is, and how it is measured: in turns with its yardstick, in one run, on one machine.

An absolute time says as much about the machine as about the program; beside a yardstick it stays comparable.
"""

import math
import statistics
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from typing import Literal

LEAST_ROUNDS = 5
ANY = math.inf


@dataclass(frozen=True, kw_only=True)
class Target:
    """At most `limit`, either for the figure itself or for its ratio to the yardstick. ANY: nothing is asked of it."""

    limit: float
    of: Literal["value", "ratio"]

    def text(self, unit: str) -> str:
        if math.isinf(self.limit):
            return "reported"
        return f"<= {self.limit:g}" if self.of == "ratio" else f"<= {self.limit:g} {unit}"

    def judge(
        self, name: str, value: float, yardstick: str, yardstick_value: float, *, size: dict[str, int], unit: str = "ms"
    ) -> "Result":
        ratio = value / yardstick_value
        return Result(
            name=name,
            value=round(value, 3),
            unit=unit,
            yardstick=yardstick,
            yardstick_value=round(yardstick_value, 3),
            # Three figures: some are a thousandth of their yardstick.
            ratio=float(f"{ratio:.3g}"),
            target=self.text(unit),
            holds=(value if self.of == "value" else ratio) <= self.limit,
            size=size,
        )


@dataclass(frozen=True, kw_only=True)
class Result:
    name: str
    value: float
    unit: str
    yardstick: str
    yardstick_value: float
    ratio: float
    target: str
    holds: bool
    size: dict[str, int]

    def row(self) -> dict[str, object]:
        return asdict(self)


@dataclass(frozen=True, kw_only=True)
class Figure:
    """`run` and `yardstick_run` do the work once; what they return is not looked at."""

    name: str
    run: Callable[[], object]
    yardstick: str
    yardstick_run: Callable[[], object]
    target: Target
    size: dict[str, int] = field(default_factory=dict)
    unit: str = "ms"
    rounds: int = LEAST_ROUNDS
    repeats: int = 1
    # How often `run` alone is done a round, where one of the yardstick takes a hundred times as long: once by itself
    # would measure what the yardstick has left in the processor's caches.
    run_repeats: int = 1

    def measure(self) -> Result:
        """Medians of at least five rounds; the first round warms up and is not counted."""
        rounds = max(self.rounds, LEAST_ROUNDS) + 1
        pairs = [(self._time(self.run, self.run_repeats), self._time(self.yardstick_run)) for _ in range(rounds)][1:]
        value, yardstick = (statistics.median(column) for column in zip(*pairs, strict=True))
        return self.target.judge(self.name, value, self.yardstick, yardstick, size=self.size, unit=self.unit)

    def _time(self, work: Callable[[], object], times: int = 1) -> float:
        started = time.perf_counter()
        for _ in range(times * self.repeats):
            work()
        return (time.perf_counter() - started) * 1000 / (times * self.repeats)
