"""Heads of the chain kept outside the database: against them a cut or a full rewrite shows.

One JSON line an hour in TRAIL_ANCHOR_DIR. The folder is worth most on another machine or medium.
"""

import json
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import connections

from clinic.trail import canonical, durable, rows
from clinic.trail.models import AccessSeal, TrailSeal

FILE_NAME = "anchors.jsonl"


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    at: str
    position: int
    row_hash: str
    # The last block of the access log; 0 and empty before the first.
    access_last_id: int = 0
    access_hash: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorFile:
    anchors: tuple[Anchor, ...] = ()
    unreadable_lines: tuple[int, ...] = ()


def head(using: str = "default") -> tuple[int, str]:
    """Position and hash of the chain's last link."""
    last = TrailSeal.objects.using(using).order_by("-position").values_list("position", "row_hash").first()
    return (0, rows.GENESIS) if last is None else last


def present(now: datetime, *, using: str = "default") -> Anchor:
    position, row_hash = head(using)
    block = AccessSeal.objects.using(using).order_by("-last_id").values_list("last_id", "block_hash").first()
    last_id, block_hash = (0, "") if block is None else block
    at = canonical.instant(now)
    return Anchor(at=at, position=position, row_hash=row_hash, access_last_id=last_id, access_hash=block_hash)


def write(now: datetime) -> Anchor:
    _settle_database()
    anchor = present(now)
    Path(settings.TRAIL_ANCHOR_DIR).mkdir(mode=0o700, parents=True, exist_ok=True)
    durable.append_line(Path(settings.TRAIL_ANCHOR_DIR) / FILE_NAME, canonical.text(asdict(anchor)))
    return anchor


def read(folder: Path) -> AnchorFile:
    path = folder / FILE_NAME
    if not path.exists():
        return AnchorFile()
    found, unreadable = [], []
    for number, line in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), start=1):
        if line.strip():
            try:
                found.append(_parse(line))
            except (KeyError, TypeError, ValueError):
                unreadable.append(number)
    return AnchorFile(anchors=tuple(found), unreadable_lines=tuple(unreadable))


def _parse(line: str) -> Anchor:
    stated = json.loads(line)
    if not isinstance(stated["position"], int) or not isinstance(stated["row_hash"], str):
        raise TypeError("An anchor holds a position and a hash.")
    return Anchor(**stated)


def _settle_database() -> None:
    """On SQLite a power cut may take back the last commits; no anchor may stand for those."""
    connection = connections["default"]
    if connection.vendor == "sqlite" and not connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA wal_checkpoint(PASSIVE)")
