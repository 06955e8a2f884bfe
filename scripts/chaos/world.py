"""The program as a practice runs it, with two workers, on a database and a mail server of the storm's own."""

import json
import os
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from typing import Any

from scripts import processes
from scripts.chaos import mail
from scripts.chaos.size import Size
from scripts.supervisor import Child, Supervisor
from tests import environment, mailserver, postgres, prepared

ROOT = Path(__file__).resolve().parent.parent.parent
WORKERS = ("worker one", "worker two")
READY_SECONDS = 240
# The least that the settings allow: whoever waits longer for the mail server gives up.
PATIENCE_SECONDS = 5


class NotReady(Exception):
    """A process did not come up; the message holds the end of each log."""


@dataclass(kw_only=True)
class World:
    size: Size
    address: str
    env: dict[str, str]
    server: mail.WildServer
    supervisor: Supervisor
    cluster: postgres.Cluster | None
    redis_port: int

    def child(self, name: str) -> Child:
        return next(child for child in self.supervisor.children if child.name == name)

    def ask(self, *words: object) -> Any:
        """A command of scripts/chaos/program.py; a database that is just coming back is asked again."""
        for _ in range(5):
            command = [sys.executable, "-m", "scripts.chaos.program", *map(str, words)]
            done = subprocess.run(command, check=False, capture_output=True, text=True, cwd=ROOT, env=self.env)
            if done.returncode == 0:
                return json.loads(done.stdout)
            time.sleep(2)
        raise NotReady(f"{words} ended with {done.returncode}:\n{done.stderr[-3000:]}")

    def manage(self, *words: str) -> bool:
        command = [sys.executable, "manage.py", *words]
        return subprocess.run(command, check=False, capture_output=True, cwd=ROOT, env=self.env).returncode == 0

    def status(self, path: str = "/health/") -> int:
        """0 while nobody answers."""
        try:
            with urllib.request.urlopen(self.address + path, timeout=5) as answer:  # noqa: S310  (our own address)
                return int(answer.status)
        except urllib.error.HTTPError as answer:
            return answer.code
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            return 0

    def wait_until_it_is_green(self) -> None:
        """The first sweep came round."""
        deadline = time.monotonic() + READY_SECONDS
        while self.status() != HTTPStatus.OK:
            if time.monotonic() > deadline:
                raise NotReady(self.logs())
            time.sleep(0.2)

    def logs(self) -> str:
        return "\n".join(f"== {one.name}\n{one.log.read_text(errors='replace')[-3000:]}" for one in self._children())

    def _children(self) -> list[Child]:
        return [child for child in self.supervisor.children if child.log.exists()]


@contextmanager
def start(size: Size, *, seed: int) -> Iterator[World]:
    with tempfile.TemporaryDirectory(prefix="casebook-chaos-", ignore_cleanup_errors=True) as folder:
        home = Path(folder)
        (home / "prepared").mkdir()
        os.environ[prepared.HOME] = str(home / "prepared")
        cluster = postgres.start(postgres.DURABLE) if size.engine == "postgres" else None
        server = mail.start(seed=seed, silence_seconds=PATIENCE_SECONDS + 3)
        try:
            yield from _run(_describe(size, home=home, cluster=cluster, server=server))
        finally:
            server.stop()
            if cluster is not None:
                cluster.stop()


def _run(world: World) -> Iterator[World]:
    """Due from the moment everybody is up: the rows are spread over the time until a little before the end."""
    with world.supervisor:
        world.wait_until_it_is_green()
        world.ask("fill", world.size.rows, world.size.seconds * 0.8, world.size.hurried_seconds)
        yield world


def _describe(size: Size, *, home: Path, cluster: postgres.Cluster | None, server: mail.WildServer) -> World:
    web_port, redis_port = mailserver.free_port(), mailserver.free_port()
    address = f"http://localhost:{web_port}"
    url = prepared.database(cluster, into=home, name="chaos")
    env = {name: value for name, value in os.environ.items() if not name.startswith("CASEBOOK_")}
    env |= environment.values(var_dir=home, database_url=url)
    env |= {
        "CASEBOOK_PUBLIC_URL": address,
        "CASEBOOK_EMAIL_URL": server.url,
        "CASEBOOK_EMAIL_TIMEOUT_SECONDS": str(PATIENCE_SECONDS),
        "CASEBOOK_FROM_EMAIL": "rooms@example.org",
        "CASEBOOK_TICK_SECONDS": "1",
        "CASEBOOK_MESSAGES_FROM_HOUR": "0",
        "CASEBOOK_MESSAGES_UNTIL_HOUR": "24",
    }
    (home / "static").mkdir()
    # One at a time each, so that a kill hits one hand-over at most.
    commands = {name: [*processes.worker(), "--concurrency", "1", "--hostname", name[-3:]] for name in WORKERS}
    commands |= {"beat": processes.beat(var_dir=home), "web": processes.web(bind=f"127.0.0.1:{web_port}")}
    if cluster is not None:
        env["CASEBOOK_BROKER_URL"] = f"redis://127.0.0.1:{redis_port}/0"
        env["CASEBOOK_CACHE_URL"] = f"rediscache://127.0.0.1:{redis_port}/1"
        commands = {"redis": processes.redis(port=redis_port, folder=home), **commands}
    children = [Child(name=name, command=words, log=home / f"{name}.log") for name, words in commands.items()]
    if cluster is not None:
        children.insert(0, _database(cluster))
    # A practice's own supervisor waits longer after many falls; here the next fall comes in any case.
    supervisor = Supervisor(env=env, cwd=ROOT, children=children, stop_seconds=0, latest_restart_seconds=1)
    return World(
        size=size,
        address=address,
        env=env,
        server=server,
        supervisor=supervisor,
        cluster=cluster,
        redis_port=redis_port,
    )


def _database(cluster: postgres.Cluster) -> Child:
    """Runs already; kept alive from here on like the others."""
    return Child(name="postgres", command=cluster.command, log=cluster.home / "log", process=cluster.server)
