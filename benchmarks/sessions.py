"""One step of a session: the state is computed anew from the whole log on each tap and each refresh."""

import json
import os
import tempfile
from collections.abc import Iterator

from benchmarks.frame import Figure, Result, Target
from scripts.visitor import Visitor
from tests import prepared, world
from tests.whitening.chairside.protocol_cases import PLAN, finished
from whitening.chairside.protocol.codec import to_data
from whitening.chairside.protocol.fold import fold

PAGE = "/chair/1/"
ROUNDS, TAPS = 15, 4


def results() -> Iterator[Result]:
    yield state_of_a_log()
    with tempfile.TemporaryDirectory(prefix="casebook-bench-") as folder:
        os.environ[prepared.HOME] = folder
        with world.start("embedded", seed="tests.whitening.chairside.seed") as chair:
            yield tap_over_http(Visitor(chair.address))


def state_of_a_log() -> Result:
    log = finished()
    written = json.dumps([to_data(event.payload) for event in log.events])
    return Figure(
        name="session step: state of a four-cycle log",
        run=lambda: fold(log.events, PLAN, log.now),
        yardstick="reading the same log as JSON",
        yardstick_run=lambda: json.loads(written),
        # A tenth of what a page may take, so that a step stays as quick at the last cycle as at the first.
        target=Target(limit=10, of="value"),
        size={"entries": len(log.events)},
        rounds=ROUNDS,
        repeats=50,
    ).measure()


def tap_over_http(assistant: Visitor) -> Result:
    """The log grows with each tap, to as many entries as a session of four cycles has."""
    from tests.cast import PASSWORD  # noqa: PLC0415  (Django must be set up first)

    assistant.sign_in(email="ari@example.org", password=PASSWORD)
    stop_signal = assistant.hidden(PAGE) | {"e": "3"}
    # Without its own id each tap is a new one.
    stop_signal.pop("id", None)

    def tap() -> None:
        answer = assistant.post(f"{PAGE}event/", stop_signal)
        assert (answer.status, answer.address) == (200, assistant.address + PAGE), answer.title

    return Figure(
        name="session step: a tap over HTTP and the page after it",
        run=tap,
        yardstick="the same page once more",
        yardstick_run=lambda: assistant.get(PAGE),
        # Two requests, and each may take as long as a page.
        target=Target(limit=200, of="value"),
        size={"entries": (ROUNDS + 1) * TAPS},
        rounds=ROUNDS,
        repeats=TAPS,
    ).measure()
