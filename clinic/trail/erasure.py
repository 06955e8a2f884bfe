"""Ending a patient's personal values in the trail, and reading those that are still there."""

import json
from collections.abc import Mapping
from enum import StrEnum
from typing import cast

from cryptography.fernet import Fernet, InvalidToken

from clinic.trail import canonical, keys
from clinic.trail.models import TrailEntry
from clinic.trail.record import DIGEST_PURPOSE, payload_digest


class Unreadable(StrEnum):
    ERASED = "erased"
    # Not the same: the folder of keys is not the one this database was written with.
    KEY_MISSING = "key missing"


class ValuesAltered(Exception):
    """The encrypted values are not those that were recorded."""


def destroy_patient_key(patient_id: int) -> bool:
    """Call it after the commit of the erasure (`transaction.on_commit`): it cannot be taken back.

    The chain still verifies: it covers the encrypted values. Copies of KEYS_DIR kept elsewhere must
    lose the same file.
    """
    return keys.destroy(patient_id)


def reveal(entry: TrailEntry) -> Mapping[str, canonical.Plain] | Unreadable:
    """The recorded values, or why they cannot be read."""
    payload = payload_of(entry)
    if isinstance(payload, Unreadable):
        return payload
    return cast(Mapping[str, canonical.Plain], payload["values"])


def actor_name(entry: TrailEntry) -> str | Unreadable:
    if entry.actor_kind != "patient":
        return entry.actor_name
    payload = payload_of(entry)
    return payload if isinstance(payload, Unreadable) else str(payload["actor_name"])


def payload_of(entry: TrailEntry) -> dict[str, canonical.Plain] | Unreadable:
    key = keys.find(entry.patient_id)
    if key is None or key.id != entry.values_key:
        erased = entry.values_key in keys.destroyed(entry.patient_id)
        return Unreadable.ERASED if erased else Unreadable.KEY_MISSING
    try:
        opened = Fernet(key.secret).decrypt(entry.sealed_values.encode("ascii"))
    except InvalidToken as error:
        raise ValuesAltered(f"Entry {entry.pk}: its values were altered.") from error
    payload = cast(dict[str, canonical.Plain], json.loads(opened))
    digest_key = keys.derived(DIGEST_PURPOSE).get(entry.digest_key)
    if digest_key is not None and payload_digest(entry, payload, digest_key) != entry.digest:
        raise ValuesAltered(f"Entry {entry.pk}: its values do not match their digest.")
    return payload
