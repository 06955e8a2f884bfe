"""What a run makes once for all its workers: migrated empty databases to copy, and collected static files.

Migrating takes seconds, copying does not, and tests with processes each want a database of their own.
"""

import fcntl
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests import environment
from tests.postgres import Cluster

ROOT = Path(__file__).resolve().parent.parent
# The folder of the run, handed on to its workers.
HOME = "TESTS_HOME"


def once(name: str, make: Callable[[Path], None]) -> Path:
    """The run's folder of this name: whoever comes first fills it, the others wait until it is whole."""
    home = Path(os.environ[HOME])
    folder, draft = home / name, home / f"{name}.draft"
    with (home / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not folder.exists():
            shutil.rmtree(draft, ignore_errors=True)
            draft.mkdir()
            make(draft)
            draft.rename(folder)
    return folder


def database(cluster: Cluster | None, *, into: Path, name: str, demo: bool = False) -> str:
    """The address of a migrated database with nobody in it: casebook.sqlite3 in `into`, or `name` in the cluster."""
    kind = "demo" if demo else "plain"
    if cluster is None:
        blank = once(f"blank-{kind}", partial(_migrate_file, demo=demo))
        shutil.copyfile(blank / "casebook.sqlite3", into / "casebook.sqlite3")
        return environment.sqlite_url(into)
    template = f"blank_{kind}"
    once(f"{cluster.home.name}-{template}", partial(_migrate_in, cluster, template, demo=demo))
    return cluster.create_database(name, template=template)


def static_files() -> Path:
    """Worlds of one run share them: they depend on nothing that a test changes."""
    return once("static", _collect)


def _migrate_file(folder: Path, *, demo: bool) -> None:
    _furnish(environment.values(var_dir=folder, database_url=environment.sqlite_url(folder), demo=demo))


def _migrate_in(cluster: Cluster, template: str, folder: Path, *, demo: bool) -> None:
    url = cluster.create_database(template)
    _furnish(environment.values(var_dir=folder, database_url=url, demo=demo))


def _furnish(env: dict[str, str]) -> None:
    _run(env, "migrate", "--verbosity=0", "--skip-checks")
    _run(env, "createcachetable", "--verbosity=0")


def _collect(folder: Path) -> None:
    url = environment.sqlite_url(folder)
    env = environment.values(var_dir=folder, database_url=url, demo=True) | {"CASEBOOK_STATIC_ROOT": str(folder)}
    _run(env, "collectstatic", "--no-input", "--verbosity=0")


def _run(values: dict[str, str], *words: str) -> None:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("CASEBOOK_")}
    command = [sys.executable, "manage.py", *words]
    done = subprocess.run(command, check=False, cwd=ROOT, env=kept | values, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
