"""A private PostgreSQL cluster for one test run: a folder, a unix socket, no port, gone afterwards."""

import os
import pwd
import shutil
import subprocess
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

EXTENSIONS = ("btree_gist", "pg_trgm", "unaccent")
# Durability is of no use to a cluster that is thrown away; it is most of the cost of a small write.
# Compiling a question pays where many rows are read, and nobody comes back to clean up.
FAST = (
    "jit=off",
    "autovacuum=off",
    "fsync=off",
    "synchronous_commit=off",
    "full_page_writes=off",
    "shared_buffers=64MB",
    "max_connections=60",
)
# For one that is killed and must have kept what it said it had.
DURABLE = ("jit=off", "shared_buffers=64MB", "max_connections=60")
START_SECONDS = 30
# Where the cluster of the run lives, handed on to its workers.
HOME = "TESTS_CLUSTER"


class PostgresMissing(Exception):
    """No PostgreSQL server programs on this machine."""


@dataclass(frozen=True, kw_only=True)
class Cluster:
    """A running cluster. `casebook` owns what it creates and is no superuser, as in a real installation."""

    bin_dir: Path
    home: Path
    # None where somebody else started it, who will stop it as well.
    server: subprocess.Popen[bytes] | None
    # How the server was started, for whoever starts it again.
    command: Sequence[str] = ()

    def url(self, database: str, *, user: str = "casebook") -> str:
        return f"postgres://{user}@/{self.home}/{database}"

    def run_sql(self, sql: str, *, database: str = "postgres", user: str = "postgres") -> str:
        command: list[str | Path] = [self.bin_dir / "psql", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1"]
        where = ["-h", str(self.home), "-U", user, "-d", database, "-c", sql]
        done = subprocess.run([*command, *where], check=True, capture_output=True, text=True)
        return done.stdout.strip()

    def create_database(self, name: str, *, template: str = "template0") -> str:
        """A bare database: what our migrations need beyond it, they must create themselves. Or a copy of another."""
        self.run_sql(f'CREATE DATABASE "{name}" OWNER casebook TEMPLATE {template}')
        return self.url(name)

    def drop_database(self, name: str) -> None:
        self.run_sql(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')

    def stop(self) -> None:
        if self.server is None:
            return
        self.server.terminate()
        try:
            self.server.wait(10)
        except subprocess.TimeoutExpired:
            self.server.kill()
            self.server.wait()
        shutil.rmtree(self.home, ignore_errors=True)


def find_bin_dir() -> Path:
    """Debian keeps the server programs of each version out of PATH; the newest one is taken."""
    versions = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    if versions:
        return max(versions, key=lambda folder: float(folder.parent.name))
    found = shutil.which("initdb")
    if found is None:
        raise PostgresMissing("PostgreSQL is not installed. On Debian: apt-get install postgresql")
    return Path(found).resolve().parent


def unprivileged() -> list[str]:
    """The words in front of a command that must not run as root (PostgreSQL refuses to).

    The server also gets a signal when the test run dies, so that no cluster is left behind.
    """
    words = ["setpriv", "--pdeathsig", "INT"]
    if os.geteuid() != 0:
        return words
    known = {entry.pw_name: entry for entry in pwd.getpwall()}
    person = known.get("postgres") or known["nobody"]
    return [*words, f"--reuid={person.pw_uid}", f"--regid={person.pw_gid}", "--clear-groups"]


def start(options: Sequence[str] = FAST) -> Cluster:
    bin_dir = find_bin_dir()
    # A unix socket's path is limited to 107 bytes, hence a short folder and not pytest's own.
    home = Path(tempfile.mkdtemp(prefix="pg"))
    if os.geteuid() == 0:
        shutil.chown(home, *_owner())
    data = home / "data"
    make: list[str | Path] = [
        bin_dir / "initdb",
        "-D",
        data,
        "-U",
        "postgres",
        "--auth=trust",
        "--encoding=UTF8",
        "--locale=C.UTF-8",
    ]
    subprocess.run([*unprivileged(), *make, "--no-sync"], check=True, capture_output=True, cwd=home)
    where = ["listen_addresses=", f"unix_socket_directories={home}"]
    flags = [part for option in (*where, *options) for part in ("-c", option)]
    log = (home / "log").open("wb")
    serve = [*unprivileged(), str(bin_dir / "postgres"), "-D", str(data), *flags]
    # A session of its own: Ctrl-C in the terminal reaches pytest, which then stops the server in order.
    server = subprocess.Popen(serve, stdout=log, stderr=subprocess.STDOUT, cwd=home, start_new_session=True)
    log.close()
    cluster = Cluster(bin_dir=bin_dir, home=home, server=server, command=serve)
    _wait_until_ready(cluster)
    _furnish(cluster)
    return cluster


def borrowed(home: Path) -> Cluster:
    """A cluster that the run's controller started: its workers share it, and what is prepared in it."""
    return Cluster(bin_dir=find_bin_dir(), home=home, server=None)


def _owner() -> tuple[int, int]:
    flags = dict(word.lstrip("-").split("=") for word in unprivileged() if "=" in word)
    return int(flags["reuid"]), int(flags["regid"])


def _wait_until_ready(cluster: Cluster) -> None:
    ready: list[str | Path] = [cluster.bin_dir / "pg_isready", "-q", "-h", str(cluster.home)]
    for _ in range(START_SECONDS * 20):
        if subprocess.run(ready, check=False).returncode == 0:
            return
        if cluster.server is None or cluster.server.poll() is not None:
            break
        time.sleep(0.05)
    log = (cluster.home / "log").read_text(errors="replace")
    cluster.stop()
    raise PostgresMissing(f"PostgreSQL did not start:\n{log}")


def _furnish(cluster: Cluster) -> None:
    cluster.run_sql("CREATE ROLE casebook LOGIN CREATEDB CREATEROLE")
    cluster.run_sql("CREATE DATABASE casebook OWNER casebook")
    # In the template, so that each worker's database has them; a bare database proves the migrations.
    for extension in EXTENSIONS:
        cluster.run_sql(f"CREATE EXTENSION {extension}", database="template1")
