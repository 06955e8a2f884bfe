"""Everything the resolver knows, flat."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.urls import URLPattern, URLResolver, get_resolver


@dataclass(frozen=True, kw_only=True)
class Route:
    path: str
    name: str
    view: Callable[..., object]


def routes(resolver: URLResolver | None = None, *, before: str = "") -> Iterator[Route]:
    for entry in (resolver or get_resolver()).url_patterns:
        path = before + str(entry.pattern)
        if isinstance(entry, URLPattern):
            yield Route(path=path, name=entry.name or "", view=entry.callback)
        else:
            yield from routes(entry, before=path)
