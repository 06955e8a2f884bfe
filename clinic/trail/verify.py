"""Does the trail still say what was recorded? Read in one pass, however long it is.

A finding is proof that something was altered. What cannot be proved either way, because it is younger
than the last seal or the last outside head, is counted and said, not passed over.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from clinic.trail import anchors, blocks, keys, rows
from clinic.trail import report as said
from clinic.trail.models import TrailEntry, TrailSeal
from clinic.trail.record import DIGEST_PURPOSE
from clinic.trail.report import Report

# No transaction of ours lives this long, so an entry that turns up this late was put in from outside.
LATEST = timedelta(hours=1)
CHUNK = 5_000


def verify(*, anchor_dir: Path, using: str = "default", allow_unknown_keys: bool = False) -> Report:
    """`allow_unknown_keys` counts entries whose key is no longer in the settings instead of reporting them."""
    # Read before the chain: the chain only grows, so it must reach at least as far as these.
    outside = anchors.read(anchor_dir)
    report = Report(anchor_count=len(outside.anchors), unreadable_anchor_lines=outside.unreadable_lines)
    report.last_anchor = max(outside.anchors, key=lambda anchor: anchor.position, default=None)
    walk = _Walk(report=report, outside=outside, allow_unknown_keys=allow_unknown_keys)
    try:
        for seal in _sealed_rows(using):
            walk.step(*seal[:5], facts=seal[5:])
        walk.finish()
        _look_at_unsealed(report, walk, using=using)
        blocks.check(report, outside.anchors, using=using)
    except (AttributeError, TypeError, ValueError):
        # SQLite takes any value in any column: one that no writer of ours could have put there.
        report.findings.add(said.UNREADABLE, position=walk.position + 1)
    return report


@dataclass(slots=True, kw_only=True)
class _Walk:
    report: Report
    outside: anchors.AnchorFile
    allow_unknown_keys: bool = False
    previous: str = rows.GENESIS
    position: int = 0
    highest_id: int = 0
    # When the sealing before the present one took place, and the present one.
    earlier_at: datetime | None = None
    sealed_at: datetime | None = None
    macs: dict[str, bytes] = field(default_factory=lambda: keys.derived(DIGEST_PURPOSE))
    heads: dict[int, list[anchors.Anchor]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for anchor in self.outside.anchors:
            self.heads.setdefault(anchor.position, []).append(anchor)
        self._compare_with_outside()

    def step(
        self,
        position: int,
        row_hash: str,
        sealed_at: datetime,
        entry_id: int,
        mac: str,
        *,
        facts: tuple[object, ...],
    ) -> None:
        self._skip_to(position)
        computed = rows.link_hash(
            previous=self.previous, position=position, sealed_at=sealed_at, entry_id=entry_id, mac=mac, facts=facts
        )
        if computed != row_hash:
            self.report.findings.add(said.ALTERED, position=position, entry=entry_id)
        self.check_mac(entry_id, mac, facts)
        self._check_time(entry_id, sealed_at, facts)
        # Going on from the stored hash: one altered row is one finding, and not all that follow it.
        self.previous, self.position = row_hash, position
        self.highest_id = max(self.highest_id, entry_id)
        self.report.sealed += 1
        self._compare_with_outside()

    def check_mac(self, entry_id: int, mac: str, facts: tuple[object, ...]) -> None:
        key = self.macs.get(str(facts[_DIGEST_KEY]))
        if key is None and self.allow_unknown_keys:
            self.report.unknown_keys += 1
        elif key is None:
            # Else whoever forges an entry would only have to name a key that nobody knows.
            self.report.findings.add(said.UNKNOWN_KEY, entry=entry_id)
        elif rows.entry_mac(facts, key) != mac:
            self.report.findings.add(said.FORGED, entry=entry_id)

    def is_late(self, entry_id: int, facts: tuple[object, ...], *, before: datetime | None) -> bool:
        """Below the chain's highest id, and claiming a time long before a sealing that left it out."""
        at = facts[_AT]
        return entry_id < self.highest_id and before is not None and isinstance(at, datetime) and at < before - LATEST

    def finish(self) -> None:
        self.report.head = (self.position, self.previous)
        for position in sorted(position for position in self.heads if position > self.position):
            anchor = self.heads[position][0]
            self.report.findings.add(said.CUT, position=position, at=anchor.at)

    def _skip_to(self, position: int) -> None:
        for gone in range(self.position + 1, min(position, self.position + 1 + said.SHOWN)):
            self.report.findings.add(said.GAP, position=gone)

    def _check_time(self, entry_id: int, sealed_at: datetime, facts: tuple[object, ...]) -> None:
        if sealed_at != self.sealed_at:
            self.earlier_at, self.sealed_at = self.sealed_at, sealed_at
        if self.is_late(entry_id, facts, before=self.earlier_at):
            self.report.findings.add(said.LATE, entry=entry_id)

    def _compare_with_outside(self) -> None:
        for anchor in self.heads.get(self.position, ()):
            if anchor.row_hash != self.previous:
                self.report.findings.add(said.REWRITTEN, position=self.position, at=anchor.at)


_AT, _DIGEST_KEY = rows.COLUMNS.index("at"), rows.COLUMNS.index("digest_key")


def _sealed_rows(using: str) -> Iterator[tuple[Any, ...]]:
    columns = ("position", "row_hash", "sealed_at", "entry_id", "entry__mac")
    facts = [f"entry__{column}" for column in rows.COLUMNS]
    return TrailSeal.objects.using(using).order_by("position").values_list(*columns, *facts).iterator(CHUNK)


def _look_at_unsealed(report: Report, walk: _Walk, *, using: str) -> None:
    unsealed = TrailEntry.objects.using(using).unsealed().order_by("pk").values_list("pk", "mac", *rows.COLUMNS)
    for entry_id, mac, *facts in unsealed.iterator(CHUNK):
        report.unsealed += 1
        walk.check_mac(entry_id, mac, tuple(facts))
        if walk.is_late(entry_id, tuple(facts), before=walk.sealed_at):
            report.findings.add(said.LATE, entry=entry_id)
