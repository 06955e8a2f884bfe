"""PostgreSQL's own programs, told by their environment whom to talk to."""

import os
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any

# What a connection's OPTIONS may hold that the programs must know too.
_OPTIONS = {"sslmode": "PGSSLMODE", "sslrootcert": "PGSSLROOTCERT", "sslcert": "PGSSLCERT", "sslkey": "PGSSLKEY"}


class ProgramFailed(Exception):
    """A program is missing or ended with an error; its own last words are the message."""


def run(program: str, *arguments: str | Path, settings: Mapping[str, Any], database: str) -> None:
    try:
        done = subprocess.run(
            [program, *map(str, arguments)],
            env=environment(settings, database),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
            check=False,
        )
    except FileNotFoundError as error:
        raise ProgramFailed(f"{program} is not installed. On Debian: apt-get install postgresql-client") from error
    if done.returncode != 0:
        words = done.stderr.strip().splitlines() or [f"it ended with {done.returncode}"]
        raise ProgramFailed(f"{program}: {words[-1]}")


def environment(settings: Mapping[str, Any], database: str) -> dict[str, str]:
    """Never on the command line: every user of the machine could read the password there."""
    told = {
        "PGHOST": settings["HOST"],
        "PGPORT": settings["PORT"],
        "PGUSER": settings["USER"],
        "PGPASSWORD": settings["PASSWORD"],
        **{name: settings["OPTIONS"].get(option) for option, name in _OPTIONS.items()},
    }
    ours = {name: str(value) for name, value in told.items() if value}
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PG")}
    return kept | ours | {"PGDATABASE": database, "PGCONNECT_TIMEOUT": "20"}
