"""Payloads as plain JSON for the log, and as short codes for the wire.

The wire is what a browser may keep while the network is away, so it holds numbers and ids only:
`24:7` is a kind with its arguments, `22:0;23` are two entries made by one tap. Choices travel as
their place in the list, people as their id; words never travel this way.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, Field, fields
from datetime import datetime
from types import NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads import PAYLOADS, BadPayload, Payload, Person
from whitening.chairside.protocol.worded import Worded

WORDS = "words"
_NOT_UNDERSTOOD = _("This entry was not understood. Reload the page and tap again.")


def _misfit() -> BadPayload:
    return BadPayload(_NOT_UNDERSTOOD)


def _fields_of(payload: type[Payload]) -> tuple[tuple[Field[Any], type, bool], ...]:
    hints = get_type_hints(payload)
    return tuple((field, *_plain(hints[field.name])) for field in fields(payload))


def _columns(payload: type[Payload]) -> list[tuple[Field[Any], type, bool]]:
    """The fields that travel on the wire, in their order."""
    kept_back = payload.filled_in | {WORDS}
    return [column for column in SHAPES[payload.kind] if column[0].name not in kept_back]


def _plain(hint: Any) -> tuple[type, bool]:
    if get_origin(hint) is UnionType:
        return next(each for each in get_args(hint) if each is not NoneType), True
    return hint, False


# Each field of a payload with its plain type and whether it may be empty.
SHAPES = {kind: _fields_of(payload) for kind, payload in PAYLOADS.items()}


def to_data(payload: Payload) -> dict[str, object]:
    return {field.name: _to_json(getattr(payload, field.name)) for field in fields(payload)}


def _to_json(value: object) -> object:
    if isinstance(value, Person):
        return {"id": value.id, "name": value.name}
    if isinstance(value, datetime):
        return value.isoformat()
    return value.value if isinstance(value, Worded) else value


def from_data(kind: int, data: object) -> Payload:
    """Raises BadPayload for anything that `to_data` would not have written."""
    payload = payload_class(kind)
    known = {field.name for field in fields(payload)}
    if not isinstance(data, Mapping) or not set(data) <= known:
        raise _misfit()
    values = {
        field.name: _from_json(data[field.name], of=of, optional=optional)
        for field, of, optional in SHAPES[payload.kind]
        if field.name in data
    }
    return _made(payload, values)


def payload_class(kind: int) -> type[Payload]:
    try:
        return PAYLOADS[Kind.numbered(kind)]
    except ValueError as error:
        raise _misfit() from error


def _made(payload: type[Payload], values: Mapping[str, object]) -> Payload:
    missing = [
        field.name
        for field, _of, _optional in SHAPES[payload.kind]
        if field.default is MISSING and field.name not in values
    ]
    if missing:
        raise _misfit()
    return payload(**values)


def _from_json(value: object, *, of: type, optional: bool) -> object:
    if value is None and optional:
        return None
    reader = next((read for kind, read in _JSON_READERS.items() if issubclass(of, kind)), None)
    # A boolean is an int to Python; in the log it is not.
    if reader is None:
        if type(value) is not of:
            raise _misfit()
        return value
    try:
        return reader(of, value)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise error if isinstance(error, BadPayload) else _misfit() from error


def _person_from_json(_of: type, value: Any) -> Person:
    if set(value) != {"id", "name"} or type(value["id"]) is not int or type(value["name"]) is not str:
        raise _misfit()
    return Person(id=value["id"], name=value["name"])


_JSON_READERS: Mapping[type, Callable[[Any, Any], object]] = {
    Worded: lambda of, value: of.coded(value),
    Person: _person_from_json,
    datetime: lambda _of, value: datetime.fromisoformat(value),
}


def to_wire(payloads: Sequence[Payload]) -> str:
    return ";".join(_one_to_wire(payload) for payload in payloads)


def _one_to_wire(payload: Payload) -> str:
    arguments = [_to_code(getattr(payload, field.name)) for field, _of, _optional in _columns(type(payload))]
    return ":".join([str(int(payload.kind)), *arguments])


def _to_code(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, Worded):
        return str(list(type(value)).index(value))
    if isinstance(value, Person):
        return str(value.id)
    return str(int(value)) if isinstance(value, bool) else str(value)


def from_wire(
    wire: str, *, people: Mapping[int, str], more: Sequence[str] = (), words: str | None = None
) -> tuple[Payload, ...]:
    """`more` are further arguments of the last entry, from the controls of a form; `words` its free text."""
    parts = wire.split(";")
    last = len(parts) - 1
    return tuple(
        _one_from_wire(part, people, more if place == last else (), words if place == last else None)
        for place, part in enumerate(parts)
    )


def _one_from_wire(part: str, people: Mapping[int, str], more: Sequence[str], words: str | None) -> Payload:
    code, *arguments = part.split(":")
    payload = payload_class(_whole(code))
    columns = _columns(payload)
    arguments = [*arguments, *more]
    if len(arguments) > len(columns):
        raise _misfit()
    values = {
        field.name: _from_code(argument, of=of, optional=optional, people=people)
        for (field, of, optional), argument in zip(columns, arguments, strict=False)
    }
    if words is not None and any(field.name == WORDS for field in fields(payload)):
        values[WORDS] = words
    return _made(payload, values)


def _from_code(argument: str, *, of: type, optional: bool, people: Mapping[int, str]) -> object:
    if not argument and optional:
        return None
    if issubclass(of, Worded):
        members = list(of)
        place = _whole(argument)
        if place >= len(members):
            raise _misfit()
        return members[place]
    if of is Person:
        name = people.get(_whole(argument))
        if name is None:
            raise BadPayload(_("That person does not work here. Pick somebody from the list."))
        return Person(id=_whole(argument), name=name)
    return _plain_from_code(argument, of)


def _plain_from_code(argument: str, of: type) -> object:
    if of is bool:
        if argument not in {"0", "1"}:
            raise _misfit()
        return argument == "1"
    if of is int:
        return _whole(argument)
    if of is str:
        return argument
    # Times with two names come from the form for paper, never from a tap.
    raise _misfit()


def _whole(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 9):
        raise BadPayload(_("Enter a whole number."))
    return int(text)
