"""One step of a session: the state of a whole four-cycle log is computed anew on each tap and each refresh."""

import json
from collections.abc import Iterator

from benchmarks.frame import Figure, Result, Target
from tests.whitening.chairside.protocol_cases import PLAN, finished
from whitening.chairside.protocol.codec import to_data
from whitening.chairside.protocol.fold import fold


def results() -> Iterator[Result]:
    log = finished()
    written = json.dumps([to_data(event.payload) for event in log.events])
    yield Figure(
        name="session step: state of a four-cycle log",
        run=lambda: fold(log.events, PLAN, log.now),
        yardstick="reading the same log as JSON",
        yardstick_run=lambda: json.loads(written),
        # A tenth of what a page may take, so that a step stays as quick at the last cycle as at the first.
        target=Target(limit=10, of="value"),
        size={"entries": len(log.events)},
        rounds=15,
        repeats=50,
    ).measure()
