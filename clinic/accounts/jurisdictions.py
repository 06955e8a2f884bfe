"""Whose law holds at a site: the codes that a site may choose from. The parts that know laws register them."""

from django.utils.functional import Promise

_known: dict[str, str | Promise] = {}


def register(code: str, name: str | Promise) -> None:
    if _known.get(code, name) is not name:
        raise ValueError(f"The jurisdiction {code!r} is registered twice with different names.")
    _known[code] = name


def registered() -> dict[str, str | Promise]:
    return dict(sorted(_known.items()))


def name_of(code: str) -> str | Promise:
    """The name, or the bare code of one that is no longer offered."""
    return _known.get(code, code)
