"""An installation of its own for tests with processes: folders, and a fresh database of this run's engine."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from tests import environment, prepared
from tests.postgres import Cluster

START = (
    "import clinic.config.zones, django, runpy; django.setup(); "
    "runpy.run_module('tests.clinic.trail.driven', run_name='__main__', alter_sys=True)"
)


@dataclass(frozen=True, kw_only=True)
class Installation:
    home: Path
    url: str

    @property
    def environment(self) -> dict[str, str]:
        return {**os.environ, **environment.values(var_dir=self.home, database_url=self.url)}

    def run(self, *words: str | Path, **changed: str) -> subprocess.CompletedProcess[str]:
        """One command to its end; look at `returncode`, `stdout` and `stderr`."""
        command = [sys.executable, "-c", START, *map(str, words)]
        env = self.environment | changed
        return subprocess.run(command, env=env, capture_output=True, text=True, check=False, timeout=100)

    def must_run(self, *words: str | Path) -> str:
        done = self.run(*words)
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    @contextmanager
    def running(self, *words: str | Path) -> Iterator[subprocess.Popen[bytes]]:
        process = subprocess.Popen([sys.executable, "-c", START, *map(str, words)], env=self.environment)
        try:
            yield process
        finally:
            process.kill()
            process.wait()


@contextmanager
def fresh(home: Path, cluster: Cluster | None) -> Iterator[Installation]:
    """Migrated and empty; its database is dropped afterwards."""
    name = f"casebook_{uuid4().hex[:8]}"
    place = Installation(home=home, url=prepared.database(cluster, into=home, name=name))
    try:
        yield place
    finally:
        if cluster is not None:
            cluster.drop_database(name)
