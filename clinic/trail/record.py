"""The one way into the trail: called by every action, inside the action's own transaction."""

import re
from collections.abc import Mapping
from typing import TypedDict, Unpack
from uuid import uuid4

from cryptography.fernet import Fernet
from django.db import transaction

from clinic.trail import canonical, clock, keys, rows, verbs
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry
from clinic.trail.readymade import Statement, with_new, write_new, written

DIGEST_PURPOSE = "casebook trail digest 1"
_FIELD = re.compile(r"[A-Za-z][A-Za-z0-9_.\-]*")


class OutsideTransaction(RuntimeError):
    """A programming error: fact and entry must be committed together or not at all."""


class About(TypedDict):
    """What an entry is about, beside who did what."""

    subject: tuple[str, int | str]
    patient_id: int | None
    site_id: int | None
    values: Mapping[str, object]


def record(*, verb: str, actor: Actor, **about: Unpack[About]) -> TrailEntry:
    """Writes what was done. Field names stay readable; the values are sealed under the patient's key."""
    if not transaction.get_connection().in_atomic_block:
        raise OutsideTransaction(f"{verb} was recorded outside a transaction.")
    entry = _entry(verb, actor, about)
    write_new(entry)
    return entry


def record_with(
    change: Statement, changed: Mapping[str, object], *, verb: str, actor: Actor, **about: Unpack[About]
) -> bool:
    """Fact and entry in one statement (`noting`); False where nothing was changed, and then there is no entry."""
    entry = _entry(verb, actor, about)
    return bool(change.run(**changed, **written(entry)))


def noting(change: Statement) -> Statement:
    """The change of one row together with its entry: for `record_with`, on PostgreSQL."""
    return with_new(change, TrailEntry)


def _entry(verb: str, actor: Actor, about: About) -> TrailEntry:
    verbs.sentence(verb)
    subject, values = about["subject"], about["values"]
    entry = TrailEntry(
        nonce=uuid4(),
        at=clock.real_now(),
        clock_shift_seconds=round(clock.shift().total_seconds()),
        verb=verb,
        actor_kind=actor.kind,
        actor_id=actor.id,
        actor_name="" if actor.kind == "patient" else actor.name[:200],
        subject_kind=subject[0],
        subject_id=str(subject[1]),
        patient_id=about["patient_id"],
        site_id=about["site_id"],
        fields=_names(values),
    )
    _seal(entry, _payload(actor, values))
    return entry


def payload_digest(entry: TrailEntry, payload: canonical.Plain, key: bytes) -> str:
    # With the nonce: equal values give different digests, so an erased one cannot be told by comparing.
    return rows.keyed_digest([entry.nonce.hex, payload], key)


def _names(values: Mapping[str, object]) -> str:
    for name in values:
        if not _FIELD.fullmatch(name):
            raise ValueError(f"{name!r} is no field name: names stay readable, so they hold no values.")
    return " ".join(sorted(values))


def _payload(actor: Actor, values: Mapping[str, object]) -> dict[str, canonical.Plain]:
    payload: dict[str, canonical.Plain] = {"values": canonical.plain(values)}
    if actor.kind == "patient":
        payload["actor_name"] = actor.name
    return payload


def _seal(entry: TrailEntry, payload: dict[str, canonical.Plain]) -> None:
    digest_key, secret = next(iter(keys.derived(DIGEST_PURPOSE).items()))
    held = keys.held(entry.patient_id)
    entry.digest_key = digest_key
    entry.digest = payload_digest(entry, payload, secret)
    entry.values_key = held.id
    entry.sealed_values = Fernet(held.secret).encrypt(canonical.text(payload).encode("ascii")).decode("ascii")
    entry.mac = rows.entry_mac([getattr(entry, column) for column in rows.COLUMNS], secret)
