"""The whole program as real processes: web, worker, beat, Redis, SMTP, on a database of their own.

Nothing of the test's own Django is used: a test looks at this world through HTTP, mails and commands.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from scripts import processes
from scripts.supervisor import Child, Supervisor
from tests import environment, mailserver, postgres, prepared

ROOT = Path(__file__).resolve().parent.parent
READY_SECONDS = 120
Kind = Literal["server", "embedded"]
# "server": PostgreSQL and Redis, as a practice with a server runs it. "embedded": SQLite and a folder as broker.
KINDS: tuple[Kind, ...] = ("server", "embedded")


class WorldNotReady(Exception):
    """A process did not come up; the message holds the end of each log."""


@dataclass(kw_only=True)
class World:
    kind: Kind
    address: str
    var_dir: Path
    env: dict[str, str]
    mailbox: mailserver.Mailbox
    supervisor: Supervisor

    def manage(self, *words: str) -> str:
        """A management command in this world; what it printed. A failure raises with its words."""
        return self.python("manage.py", *words)

    def python(self, *words: str) -> str:
        command = [sys.executable, *words]
        done = subprocess.run(command, check=False, capture_output=True, text=True, cwd=ROOT, env=self.env)
        if done.returncode != 0:
            raise AssertionError(f"{' '.join(words)} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
        return done.stdout

    def child(self, name: str) -> Child:
        return next(child for child in self.supervisor.children if child.name == name)

    def logs(self) -> str:
        ends = [f"== {child.name}\n{child.log.read_text()[-2000:]}" for child in self.supervisor.children]
        return "\n".join(ends)

    def status(self, path: str) -> int:
        """The HTTP status of a page, 0 while nobody answers."""
        try:
            with urllib.request.urlopen(self.address + path, timeout=10) as answer:  # noqa: S310  (our own address)
                return int(answer.status)
        except urllib.error.HTTPError as answer:
            return answer.code
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            return 0

    def wait_until_ready(self) -> None:
        deadline = time.monotonic() + READY_SECONDS
        while self.status("/health/") != 200:
            if time.monotonic() > deadline:
                raise WorldNotReady(f"/health/ still answers {self.status('/health/')}\n{self.logs()}")
            time.sleep(0.2)


@contextmanager
def start(kind: Kind, *, cluster: postgres.Cluster | None = None, demo: bool = True, seed: str = "") -> Iterator[World]:
    """`demo` brings the clock that can be moved on; mail goes to a real SMTP server all the same.

    `seed` names a module whose `fill` furnishes the empty database before anybody visits.
    """
    var_dir = Path(tempfile.mkdtemp(prefix="casebook-world-"))
    server = mailserver.start()
    name = f"world_{var_dir.name[-8:]}".lower()
    if kind == "server":
        assert cluster is not None, "a world with a server needs a PostgreSQL cluster"
    url = prepared.database(cluster if kind == "server" else None, into=var_dir, name=name, demo=demo)
    world = _describe(kind, var_dir=var_dir, url=url, server=server, demo=demo)
    try:
        if seed:
            world.python("-m", "tests.furnish", seed)
        with world.supervisor:
            world.wait_until_ready()
            yield world
    finally:
        server.stop()
        if cluster is not None and kind == "server":
            cluster.drop_database(name)
        shutil.rmtree(var_dir, ignore_errors=True)


def _describe(kind: Kind, *, var_dir: Path, url: str, server: mailserver.MailServer, demo: bool) -> World:
    web_port, redis_port = mailserver.free_port(), mailserver.free_port()
    address = f"http://localhost:{web_port}"
    env = {name: value for name, value in os.environ.items() if not name.startswith(("CASEBOOK_", "PYTEST_"))}
    env |= environment.values(var_dir=var_dir, database_url=url, demo=demo)
    env |= {
        "CASEBOOK_STATIC_ROOT": str(prepared.static_files()),
        "CASEBOOK_PUBLIC_URL": address,
        "CASEBOOK_EMAIL_URL": server.url,
        "CASEBOOK_FROM_EMAIL": "rooms@example.org",
        "CASEBOOK_TICK_SECONDS": "1",
        # A test waits for its mail at whatever hour it runs.
        "CASEBOOK_MESSAGES_FROM_HOUR": "0",
        "CASEBOOK_MESSAGES_UNTIL_HOUR": "24",
    }
    commands = {
        "web": processes.web(bind=f"127.0.0.1:{web_port}"),
        "worker": processes.worker(),
        "beat": processes.beat(var_dir=var_dir),
    }
    if kind == "server":
        env["CASEBOOK_BROKER_URL"] = f"redis://127.0.0.1:{redis_port}/0"
        env["CASEBOOK_CACHE_URL"] = f"rediscache://127.0.0.1:{redis_port}/1"
        # First in the list: started before those who need it, and kept alive like them.
        commands = {"redis": processes.redis(port=redis_port, folder=var_dir), **commands}
    children = [Child(name=name, command=words, log=var_dir / f"{name}.log") for name, words in commands.items()]
    supervisor = Supervisor(env=env, cwd=ROOT, children=children, stop_seconds=0)
    return World(kind=kind, address=address, var_dir=var_dir, env=env, mailbox=server.mailbox, supervisor=supervisor)
