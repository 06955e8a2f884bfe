"""The access log's waiting room: a GET writes one line to a file and nothing to the database.

A line is on the disk before the page is answered; the sealer's tick brings it into `access_entry`.
"""

import json
from datetime import datetime
from pathlib import Path

from django.conf import settings

from clinic.trail import canonical, durable


def folder() -> Path:
    path = Path(settings.VAR_DIR) / "access"
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    return path


def file_for(at: datetime) -> Path:
    """One file a day, so that imported ones can be cleared away."""
    return folder() / f"access-{at:%Y-%m-%d}.jsonl"


def append(line: dict[str, canonical.Plain], *, at: datetime) -> None:
    durable.append_line(file_for(at), canonical.text(line))


def files() -> list[Path]:
    return sorted(folder().glob("access-*.jsonl"))


def read_lines(path: Path, *, offset: int, limit: int) -> tuple[list[dict[str, canonical.Plain]], int, int]:
    """Whole lines from the offset on: their content, the offset after them, and how many were torn."""
    lines, torn = [], 0
    with path.open("rb") as file:
        file.seek(offset)
        while len(lines) < limit and (raw := file.readline()).endswith(b"\n"):
            offset += len(raw)
            if not raw.strip():
                continue
            try:
                lines.append(json.loads(raw))
            except ValueError:
                # Only a power cut tears a line, and its page was then never answered.
                torn += 1
    return lines, offset, torn
