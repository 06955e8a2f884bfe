"""The order and form in which an entry's columns are digested. It may never change: seals rest on it."""

import hashlib
import hmac
from collections.abc import Sequence
from datetime import datetime
from typing import cast
from uuid import UUID

from clinic.trail import canonical

FORM = 1
# All that an entry states before it has a number; `mac` covers them, and a seal covers mac and number.
COLUMNS = (
    "nonce",
    "at",
    "clock_shift_seconds",
    "verb",
    "actor_kind",
    "actor_id",
    "actor_name",
    "subject_kind",
    "subject_id",
    "patient_id",
    "site_id",
    "fields",
    "digest",
    "digest_key",
    "values_key",
    "sealed_values",
)
GENESIS = hashlib.sha256(b"trail, before the first entry").hexdigest()


def entry_mac(facts: Sequence[object], key: bytes) -> str:
    """Only who holds the key can make or copy an entry: the nonce in it can stand in one row alone."""
    return keyed_digest(_facts(facts), key)


def keyed_digest(value: canonical.Plain, key: bytes) -> str:
    return hmac.new(key, canonical.text(value).encode("ascii"), hashlib.sha256).hexdigest()


def link_hash(
    *, previous: str, position: int, sealed_at: datetime, entry_id: int, mac: str, facts: Sequence[object]
) -> str:
    link: list[canonical.Plain] = [previous, position, canonical.instant(sealed_at), entry_id, mac, *_facts(facts)]
    return hashlib.sha256(canonical.text(link).encode("ascii")).hexdigest()


def _facts(facts: Sequence[object]) -> list[canonical.Plain]:
    nonce, at, *rest = facts
    plain = cast(list[canonical.Plain], rest)
    return [FORM, cast(UUID, nonce).hex, canonical.instant(cast(datetime, at)), *plain]
