"""Django's SQLite, with waiters that are served about in the order in which they came.

SQLite lets those who wait for the writer's turn sleep longer and longer, up to a tenth of a second, while newcomers ask
every few thousandths: of eight busy processes one waited three seconds. Here it is the other way round.
"""

import math
import random
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import OperationalError
from django.db.backends.sqlite3 import base

# Seconds between two asks of a newcomer, and of somebody who has waited long.
FIRST_PAUSE, LAST_PAUSE = 0.006, 0.001
# How long one has waited when the pause has become half.
HALF_AFTER = 0.030
# The plain result code lies in the lowest byte of an extended one.
_PLAIN = 0xFF


class DatabaseWrapper(base.DatabaseWrapper):
    def _start_transaction_under_autocommit(self) -> None:
        """Raises OperationalError, as ever, when the turn has not come within the timeout of the settings."""
        patience = float(self.settings_dict["OPTIONS"]["timeout"])
        began = time.monotonic()
        with self._asking_once(patience):
            while not self._begins(is_last=time.monotonic() - began > patience):
                # Never twice the same, so that no two go on meeting each other.
                time.sleep(pause(time.monotonic() - began) * random.uniform(0.5, 1.5))  # noqa: S311  (nothing secret)

    def _begins(self, *, is_last: bool) -> bool:
        try:
            super()._start_transaction_under_autocommit()  # type: ignore[misc]
        except OperationalError as error:
            if is_last or not _is_busy(error):
                raise
            return False
        return True

    @contextmanager
    def _asking_once(self, patience: float) -> Iterator[None]:
        """Every other statement waits as SQLite does."""
        self.connection.execute("PRAGMA busy_timeout = 0")
        try:
            yield
        finally:
            self.connection.execute(f"PRAGMA busy_timeout = {1000 * patience:.0f}")


def pause(waited: float) -> float:
    """Seconds: the longer somebody has waited, the sooner they ask again."""
    return max(LAST_PAUSE, FIRST_PAUSE * math.exp2(-waited / HALF_AFTER))


def _is_busy(error: OperationalError) -> bool:
    cause = error.__cause__
    return isinstance(cause, sqlite3.OperationalError) and cause.sqlite_errorcode & _PLAIN == sqlite3.SQLITE_BUSY
