"""The access log's waiting room: a GET writes one line to a file and nothing to the database.

A line is on the disk before the page is answered; the sealer's tick brings it into `access_entry`.
"""

import hashlib
import json
from datetime import datetime
from pathlib import Path
from uuid import UUID

from django.conf import settings

from clinic.trail import canonical, durable

Line = dict[str, canonical.Plain]


def folder() -> Path:
    path = Path(settings.VAR_DIR) / "access"
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    return path


def file_for(at: datetime) -> Path:
    """One file a day, so that imported ones can be cleared away."""
    return folder() / f"access-{at:%Y-%m-%d}.jsonl"


def append(line: Line, *, at: datetime) -> None:
    durable.append_line(file_for(at), canonical.text(line))


def files() -> list[Path]:
    return sorted(folder().glob("access-*.jsonl"))


def identity(path: Path) -> UUID | None:
    """Tells a file from another of the same name, by its first line; None while it holds no line."""
    with path.open("rb") as file:
        for raw in file:
            if raw.strip() and raw.endswith(b"\n"):
                return UUID(bytes=hashlib.sha256(raw).digest()[:16])
    return None


def read_lines(path: Path, *, offset: int, limit: int) -> tuple[list[Line], int, int]:
    """Whole lines from the offset on: their content, the offset after them, and how many were torn."""
    lines: list[Line] = []
    torn = 0
    with path.open("rb") as file:
        file.seek(offset)
        while len(lines) < limit and (raw := file.readline()).endswith(b"\n"):
            offset += len(raw)
            if not raw.strip():
                continue
            line = _parse(raw)
            if line is None:
                torn += 1
            else:
                lines.append(line)
    return lines, offset, torn


def _parse(raw: bytes) -> Line | None:
    """None for a torn line: only a power cut tears one, and its page was then never answered."""
    try:
        line = json.loads(raw)
    except ValueError:
        return None
    return line if isinstance(line, dict) else None
