"""The yardstick of every page: the same server, and nothing behind it."""

from collections.abc import Callable, Iterable

Start = Callable[[str, list[tuple[str, str]]], object]


def application(environ: dict[str, object], start_response: Start) -> Iterable[bytes]:
    start_response("200 OK", [("Content-Type", "text/plain"), ("Content-Length", "5")])
    return [b"hello"]
