"""The environment that the settings see in tests, in linting and in the processes of tests/world.py.

The settings are read once, when Django is first used, so `prepare` must come before that.
"""

import os
from pathlib import Path

# Two fixed keys, so that a failure repeats with the same bytes. They protect nothing but test data.
SECRET_KEY = "only-for-tests-" + "k" * 50
FIELD_KEYS = "Y2FzZWJvb2stdGVzdC1maWVsZC1rZXktbnVtYmVyLTE="


def values(*, var_dir: Path, database_url: str, demo: bool = False) -> dict[str, str]:
    """Everything that a process of ours needs to start on this machine, over plain HTTP."""
    return {
        "DJANGO_SETTINGS_MODULE": "clinic.config.settings",
        "PYTHONTZPATH": "",
        "CASEBOOK_SECRET_KEY": SECRET_KEY,
        "CASEBOOK_FIELD_KEYS": FIELD_KEYS,
        "CASEBOOK_PLAIN_HTTP": "1",
        "CASEBOOK_DEMO": "1" if demo else "0",
        "CASEBOOK_HOSTS": "localhost,127.0.0.1,testserver",
        "CASEBOOK_VAR_DIR": str(var_dir),
        "CASEBOOK_STATIC_ROOT": str(var_dir / "static"),
        "CASEBOOK_DATABASE_URL": database_url,
        "CASEBOOK_LOG_LEVEL": "WARNING",
    }


def sqlite_url(var_dir: Path) -> str:
    return f"sqlite:///{var_dir / 'casebook.sqlite3'}"


def prepare(*, var_dir: Path, database_url: str, demo: bool = False) -> None:
    """Set the environment of this process; values of the caller's own shell never leak into a test."""
    for name in [name for name in os.environ if name.startswith("CASEBOOK_")]:
        del os.environ[name]
    os.environ.update(values(var_dir=var_dir, database_url=database_url, demo=demo))
