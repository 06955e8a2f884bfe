"""One and only one text for a value: what digests and seals are computed over.

The same on both databases and on every machine: ASCII JSON without spaces, keys sorted, aware times
in UTC. A type without an agreed form is refused, because a guess would change with the library.
"""

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from enum import Enum
from typing import TypeAlias
from uuid import UUID

from django.utils.functional import Promise

Plain: TypeAlias = "str | int | float | bool | list[Plain] | dict[str, Plain] | None"

_encode = json.JSONEncoder(ensure_ascii=True, allow_nan=False, sort_keys=True, separators=(",", ":")).encode


def text(value: Plain) -> str:
    return _encode(value)


def plain(value: object) -> Plain:
    """The JSON form of a value that an action hands over."""
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, (str, bool, int, float)):
        # Subclasses are flattened, so that a lazy or marked string leaves no trace of its type.
        return str(value) if isinstance(value, str) else value
    if isinstance(value, Mapping):
        return {_key(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    return _scalar(value)


def instant(at: datetime) -> str:
    """An aware time with all six decimals, in UTC: equal instants give equal text."""
    if at.tzinfo is None:
        raise TypeError("A time without a zone has no canonical form.")
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def _scalar(value: object) -> str:
    if isinstance(value, datetime):
        return instant(value)
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, timedelta):
        return f"{value / timedelta(seconds=1)!r} s"
    if isinstance(value, (Decimal, UUID, Promise)):
        return str(value)
    raise TypeError(f"{type(value).__name__} has no canonical form. Hand over plain values.")


def _key(key: object) -> str:
    if not isinstance(key, str):
        raise TypeError(f"The key {key!r} is no text.")
    return str(key)
