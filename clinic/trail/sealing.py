"""The sealer: chains what has been committed, and carries the head outside the database.

An action never waits for the chain. A transaction that commits late, with a lower id than the head,
is sealed by a later tick: positions follow the sealing, not the ids.
"""

from datetime import datetime

from django.db import transaction

from clinic.trail import anchors, blocks, importing, locks, rows
from clinic.trail.models import TrailEntry, TrailSeal

BATCH = 2_000
# How far below the highest sealed id a tick looks for late ones; the hourly anchor looks everywhere.
LOOK_BACK_IDS = 10_000


def seal_tick(now: datetime) -> int:
    """Each minute: brings accesses in and chains what is new. The time is the real one."""
    importing.import_spool(now)
    return seal(now)


def anchor_tick(now: datetime) -> anchors.Anchor:
    """Each hour, and before each backup: leaves nothing unsealed and writes the head outside."""
    importing.import_spool(now)
    seal(now, everything=True)
    blocks.seal_accesses(now)
    return anchors.write(now)


def seal(now: datetime, *, everything: bool = False) -> int:
    """The number of entries chained. Two sealers at once take turns, so the chain never forks."""
    sealed = TrailSeal.objects.order_by("-entry_id").values_list("entry_id", flat=True).first()
    floor = 0 if everything or sealed is None else sealed - LOOK_BACK_IDS
    total = 0
    # Asked outside a transaction: an idle tick must not take SQLite's write lock.
    while TrailEntry.objects.unsealed().filter(pk__gt=floor).exists():
        total += _seal_batch(now, floor=floor)
    return total


def _seal_batch(now: datetime, *, floor: int) -> int:
    with transaction.atomic():
        locks.hold(locks.SEALER)
        position, previous = anchors.head()
        unsealed = TrailEntry.objects.unsealed().filter(pk__gt=floor).order_by("pk")
        seals = []
        for entry_id, mac, *facts in unsealed.values_list("pk", "mac", *rows.COLUMNS)[:BATCH]:
            position += 1
            previous = rows.link_hash(
                previous=previous, position=position, sealed_at=now, entry_id=entry_id, mac=mac, facts=facts
            )
            seals.append(TrailSeal(position=position, entry_id=entry_id, row_hash=previous, sealed_at=now))
        TrailSeal.objects.bulk_create(seals)
    return len(seals)
