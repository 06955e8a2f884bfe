"""The commands that make up a running casebook. The demo, the tests and docker-compose.yml use the same.

A test compares docker-compose.yml with this page.
"""

import sys
from pathlib import Path

# Sync workers: a connection kept alive then cannot pile requests onto one busy worker. The program is read once,
# before they part: they share its memory, and one that is replaced is there at once.
WEB = (
    "gunicorn clinic.config.wsgi:application --preload --workers 2 --timeout 90 --max-requests 5000 --no-control-socket"
)
# Two at once are plenty for a doorbell; the tables hold the work.
WORKER = (
    "celery -A clinic.config.celery worker --concurrency 2 --without-gossip --without-mingle --without-heartbeat"
    " --loglevel WARNING"
)
BEAT = "celery -A clinic.config.celery beat --loglevel WARNING"
REDIS = "redis-server --appendonly yes --maxmemory-policy noeviction"


def web(*, bind: str) -> list[str]:
    return _ours(f"{WEB} --bind {bind}")


def worker() -> list[str]:
    return _ours(WORKER)


def beat(*, var_dir: Path) -> list[str]:
    """One beat per installation: a second one would only ring twice, which changes nothing."""
    return [*_ours(BEAT), "--schedule", str(var_dir / "beat"), "--pidfile", ""]


def redis(*, port: int, folder: Path) -> list[str]:
    """It keeps what it was given over a restart, and never throws a message away for want of memory."""
    return [*REDIS.split(), "--bind", "127.0.0.1", "--port", str(port), "--dir", str(folder), "--save", ""]


def _ours(command: str) -> list[str]:
    """The program of this virtual environment, found without activating it."""
    program, *words = command.split()
    return [str(Path(sys.executable).parent / program), *words]
