"""Sweepers as real processes on a database of their own: they race, and one is killed in the act."""

import asyncio
import json
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

from tests import environment, postgres, prepared
from tests.mailserver import free_port

ROOT = Path(__file__).resolve().parents[3]


@dataclass
class Letterbox:
    """Counts Message-IDs; while `holds`, it takes the data and never answers."""

    ids: Counter[str] = field(default_factory=Counter)
    holds: bool = False
    holding: threading.Event = field(default_factory=threading.Event)

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        assert isinstance(envelope.content, bytes)
        lines = envelope.content.decode().splitlines()
        self.ids[next(line for line in lines if line.startswith("Message-ID: ")).removeprefix("Message-ID: ")] += 1
        if self.holds:
            self.holding.set()
            await asyncio.sleep(60)
        return "250 Taken"


@dataclass(frozen=True, kw_only=True)
class Home:
    env: dict[str, str]
    letterbox: Letterbox

    def start(self, *words: str) -> "subprocess.Popen[str]":
        command = [sys.executable, "-m", "tests.clinic.messages.racing", *words]
        return subprocess.Popen(
            command, cwd=ROOT, env=self.env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )

    def run(self, *words: str) -> Any:
        return answer_of(self.start(*words))


def answer_of(process: "subprocess.Popen[str]") -> Any:
    out, err = process.communicate(timeout=100)
    assert process.returncode == 0, err
    return json.loads(out)


@pytest.fixture
def home(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Home]:
    """A migrated database on the engine of this run, and a mail server beside it."""
    cluster: postgres.Cluster | None = None
    name = f"race_{uuid4().hex[:8]}"
    if request.config.getoption("--db") == "postgres":
        cluster = request.getfixturevalue("postgres_cluster")
    url = prepared.database(cluster, into=tmp_path, name=name)
    letterbox = Letterbox()
    controller = Controller(letterbox, hostname="127.0.0.1", port=free_port())
    controller.start()
    env = environment.values(var_dir=tmp_path, database_url=url)
    env["CASEBOOK_EMAIL_URL"] = f"smtp://127.0.0.1:{controller.port}"
    try:
        yield Home(env=env, letterbox=letterbox)
    finally:
        controller.stop()
        if cluster is not None:
            cluster.drop_database(name)


def test_two_sweepers_never_claim_one_row_twice(home: Home) -> None:
    count = 100
    home.run("prepare", str(count))
    starts_at = str(time.time() + 6)
    racers = [home.start("sweep", starts_at) for _ in range(2)]
    claimed = [answer_of(racer) for racer in racers]
    seen = home.run("look")
    assert sum(claimed) == count
    # Both had their share: otherwise nothing was raced.
    assert min(claimed) > 0
    assert seen["states"] == ["handed_over"] * count
    assert seen["attempts"] == [1] * count
    assert home.letterbox.ids == Counter(seen["ids"])


def test_killed_in_the_act_is_uncertain_and_the_rest_goes_on(home: Home) -> None:
    home.run("prepare", "3")
    home.letterbox.holds = True
    sweeper = home.start("sweep", "0")
    assert home.letterbox.holding.wait(60), "the sweeper never came to the data"
    sweeper.kill()
    sweeper.communicate()
    assert home.run("look")["states"] == ["handing_over", "claimed", "claimed"]
    home.letterbox.holds = False
    home.run("expire")
    seen = home.run("look")
    assert seen["states"] == ["uncertain", "handed_over", "handed_over"]
    # What was sent once, and might have been lost, was not sent again by itself.
    assert home.letterbox.ids == Counter(seen["ids"])


def test_the_loop_beats_and_stops_when_it_is_told_to(home: Home) -> None:
    home.run("prepare", "1")
    command = [sys.executable, "manage.py", "run_sweeper", "--every", "0.1", "--skip-checks"]
    loop = subprocess.Popen(command, cwd=ROOT, env=home.env)
    try:
        # This loop knows none of the test's kinds: what nobody knows any more fails where a person sees it.
        while home.run("look")["states"] != ["failed"]:
            assert loop.poll() is None
    finally:
        loop.terminate()
    assert loop.wait(30) == 0
    assert home.run("beats") == ["messages.sweep"]
