"""Which stored files the database refers to: each app that stores files registers a look-up.

A look-up is given the database alias to read (a check of a restored copy reads another one than the
site does) and yields SHA-256 and path below FILES_DIR of every file that must exist:

    files.register("documents", lambda using: Document.objects.using(using).values_list("sha256", "path"))
"""

from collections.abc import Callable, Iterable, Iterator

Lookup = Callable[[str], Iterable[tuple[str, str]]]
_lookups: dict[str, Lookup] = {}


def register(name: str, lookup: Lookup) -> None:
    _lookups[name] = lookup


def referenced(using: str) -> Iterator[tuple[str, str]]:
    for lookup in _lookups.values():
        yield from lookup(using)
