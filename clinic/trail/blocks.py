"""Seals over the access log: one digest for each block of accesses that came since the last."""

import hashlib
from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.trail import canonical, locks
from clinic.trail import report as said
from clinic.trail.anchors import Anchor
from clinic.trail.models import AccessEntry, AccessSeal
from clinic.trail.report import Report

FORM = 1
BLOCK = 100_000
CHUNK = 5_000
COLUMNS = (
    "id",
    "line",
    "at",
    "clock_shift_seconds",
    "what",
    "actor_kind",
    "actor_id",
    "subject_kind",
    "subject_id",
    "patient_id",
    "site_id",
)


def seal_accesses(now: datetime) -> int:
    """The number of accesses sealed."""
    total = 0
    while count := _seal_block(now):
        total += count
    return total


def block_hash(block: Iterable[tuple[object, ...]]) -> tuple[str, int, int]:
    """The digest of these rows, in order, with their number and the last id."""
    digest, count, last_id = hashlib.sha256(), 0, 0
    for row in block:
        digest.update(canonical.text([FORM, *(_cell(cell) for cell in row)]).encode("ascii") + b"\n")
        count += 1
        last_id = int(str(row[0]))
    return digest.hexdigest(), count, last_id


def check(report: Report, outside: Iterable[Anchor], *, using: str) -> None:
    """Each block against its rows, all rows against the blocks, the blocks against the outside heads."""
    heads = {0: ""}
    for seal in AccessSeal.objects.using(using).order_by("last_id"):
        rows = AccessEntry.objects.using(using).filter(pk__range=(seal.first_id, seal.last_id)).order_by("pk")
        found = block_hash(rows.values_list(*COLUMNS).iterator(CHUNK))
        if found != (seal.block_hash, seal.row_count, seal.last_id):
            report.findings.add(said.BLOCK_ALTERED, first=seal.first_id, last=seal.last_id)
        report.accesses_sealed += seal.row_count
        heads[seal.last_id] = seal.block_hash
    last_id = max(heads)
    entries = AccessEntry.objects.using(using)
    below = entries.filter(pk__lte=last_id).count()
    if below != report.accesses_sealed:
        report.findings.add(said.BLOCKS_ALTERED, found=below, last=last_id, sealed=report.accesses_sealed)
    report.accesses_unsealed = entries.filter(pk__gt=last_id).count()
    for anchor in outside:
        if heads.get(anchor.access_last_id) != anchor.access_hash:
            report.findings.add(said.BLOCK_GONE, at=anchor.at)


def _seal_block(now: datetime) -> int:
    with transaction.atomic():
        # The importer's lock: its rows come one batch after the other, so none appears below a block.
        locks.hold(locks.IMPORTER)
        sealed = AccessSeal.objects.order_by("-last_id").values_list("last_id", flat=True).first() or 0
        fresh = AccessEntry.objects.filter(pk__gt=sealed).order_by("pk")
        first_id = fresh.values_list("pk", flat=True).first()
        if first_id is None:
            return 0
        digest, count, last_id = block_hash(fresh.values_list(*COLUMNS)[:BLOCK].iterator(CHUNK))
        AccessSeal.objects.create(first_id=first_id, last_id=last_id, row_count=count, block_hash=digest, sealed_at=now)
    return count


def _cell(cell: object) -> canonical.Plain:
    return cell.hex if isinstance(cell, UUID) else canonical.plain(cell)
