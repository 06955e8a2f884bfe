"""Has a handed-over file looked at in a bounded process, and says what it is or why it is refused."""

import json
import os
import subprocess
import sys
from typing import Any

from django.conf import settings

from clinic.documents.failures import NotAPaper
from clinic.documents.looking import Looked
from clinic.documents.uploads import MOST_BYTES

WALL_S = 30


def inspected(content: bytes) -> Looked:
    """Raises NotAPaper. A process that dies of the file has found it unreadable."""
    if not content:
        raise NotAPaper("empty")
    if len(content) > MOST_BYTES:
        raise NotAPaper("size")
    answer = _answer(content)
    if "refused" in answer:
        raise NotAPaper(answer["refused"])
    return Looked(**answer)


def _answer(content: bytes) -> dict[str, Any]:
    try:
        done = subprocess.run(
            [sys.executable, "-m", "clinic.documents.looking"],
            input=content,
            capture_output=True,
            cwd=settings.BASE_DIR,
            # It has no use for keys or for the address of the database.
            env={name: os.environ[name] for name in ("PATH", "LD_LIBRARY_PATH", "PYTHONPATH") if name in os.environ},
            timeout=WALL_S,
            check=True,
        )
    except (subprocess.CalledProcessError, subprocess.TimeoutExpired) as error:
        raise NotAPaper("broken") from error
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer
