"""Two devices sign the same plan at the same moment: one signature, the other a clear sentence."""

import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from tests import environment, postgres, prepared

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def start(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Callable[..., "subprocess.Popen[str]"]]:
    """Starts a program on a migrated database of its own, on the engine of this run."""
    cluster: postgres.Cluster | None = None
    name = f"race_{uuid4().hex[:8]}"
    if request.config.getoption("--db") == "postgres":
        cluster = request.getfixturevalue("postgres_cluster")
    url = prepared.database(cluster, into=tmp_path, name=name)
    env = environment.values(var_dir=tmp_path, database_url=url)

    def run(*words: str) -> "subprocess.Popen[str]":
        command = [sys.executable, "-m", "tests.whitening.consent.racing", *words]
        return subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    try:
        yield run
    finally:
        if cluster is not None:
            cluster.drop_database(name)


def answer_of(process: "subprocess.Popen[str]") -> Any:
    out, err = process.communicate(timeout=100)
    assert process.returncode == 0, err
    return json.loads(out)


def test_two_devices_one_signature(start: Callable[..., "subprocess.Popen[str]"]) -> None:
    answer_of(start("prepare"))
    starts_at = str(time.time() + 6)
    racers = [start("sign", starts_at) for _ in range(2)]
    answers = sorted(answer_of(racer) for racer in racers)
    assert answers == ["This is signed already. You need not do it again.", "signed"]
    assert answer_of(start("look")) == {"signatures": 1, "choices": 4}
