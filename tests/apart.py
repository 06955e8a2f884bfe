"""A database of its own on the engine of the run, and a program that works on it apart from the tests' process."""

import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from tests import environment, postgres, prepared

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, kw_only=True)
class Home:
    env: dict[str, str]
    vendor: str
    name: str
    # A module that is given words and prints its answer as JSON.
    program: str

    def start(self, *words: object) -> "subprocess.Popen[str]":
        command = [sys.executable, "-m", self.program, *map(str, words)]
        return subprocess.Popen(
            command, cwd=ROOT, env=self.env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )

    def run(self, *words: object) -> Any:
        return answer_of(self.start(*words))


def answer_of(process: "subprocess.Popen[str]") -> Any:
    out, err = process.communicate()
    assert process.returncode == 0, err
    return json.loads(out)


def a_home(program: str, vendor: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Home]:
    """A migrated database on the engine of this run."""
    cluster: postgres.Cluster | None = None
    name = f"apart_{uuid4().hex[:8]}"
    if vendor == "postgres":
        cluster = request.getfixturevalue("postgres_cluster")
    url = prepared.database(cluster, into=tmp_path, name=name)
    if cluster is not None:
        # Who waits in a circle is told so at once: those who claim blindly often do.
        cluster.run_sql(f'ALTER DATABASE "{name}" SET deadlock_timeout = 50')
    env = environment.values(var_dir=tmp_path, database_url=url)
    try:
        yield Home(env=env, vendor=vendor, name=name, program=program)
    finally:
        if cluster is not None:
            cluster.drop_database(name)
