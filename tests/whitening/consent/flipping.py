"""One bit of one stored value, changed as a failing disk or an intruder with full rights would change it."""

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any
from uuid import UUID

from django.db import models

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class NotStorable(ValueError):
    """What came out is no value of its kind: no database would keep it or give it back."""


@dataclass(frozen=True, slots=True)
class Place:
    """A column of one row."""

    row: models.Model
    column: str

    def flipped(self, random: Random) -> object:
        """Raises NotStorable. Never the value that stands there."""
        value = getattr(self.row, self.column)
        while (changed := _flipped(value, random)) == value:
            # A letter of another case inside an escape reads the same: nothing was changed that anybody signed.
            continue
        return changed

    def put(self, value: object) -> None:
        type(self.row)._base_manager.filter(pk=self.row.pk).update(**{self.column: value})


def places(rows: list[models.Model]) -> list[Place]:
    """Every column that holds something, the key aside."""
    return [
        Place(row, field.attname)
        for row in rows
        for field in row._meta.concrete_fields
        if not field.primary_key and getattr(row, field.attname) not in (None, "")
    ]


def flipped_bytes(raw: bytes, random: Random) -> bytes:
    changed = bytearray(raw)
    place = random.randrange(len(raw) * 8)
    changed[place // 8] ^= 1 << place % 8
    return bytes(changed)


def _flipped(value: Any, random: Random) -> object:
    match value:
        case bool():
            return not value
        case str():
            return _text(value.encode(), random)
        case int():
            return value ^ (1 << random.randrange(63))
        case UUID():
            return UUID(int=value.int ^ (1 << random.randrange(128)))
        case datetime():
            return _moment(value, random)
        case date():
            return _day(value, random)
        case _:
            return _json(value, random)


def _text(raw: bytes, random: Random) -> str:
    try:
        text = flipped_bytes(raw, random).decode()
    except UnicodeDecodeError as error:
        raise NotStorable from error
    if "\0" in text:
        raise NotStorable
    return text


def _moment(value: datetime, random: Random) -> datetime:
    """As both databases count: microseconds."""
    count = (value - EPOCH) // timedelta(microseconds=1) ^ (1 << random.randrange(62))
    try:
        return EPOCH + timedelta(microseconds=count)
    except OverflowError as error:
        raise NotStorable from error


def _day(value: date, random: Random) -> date:
    try:
        return date.fromordinal(value.toordinal() ^ (1 << random.randrange(22)))
    except (ValueError, OverflowError) as error:
        raise NotStorable from error


def _json(value: Any, random: Random) -> object:
    try:
        return json.loads(_text(json.dumps(value, ensure_ascii=False).encode(), random))
    except json.JSONDecodeError as error:
        raise NotStorable from error
