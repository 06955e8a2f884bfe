"""A database without its guards must not go unnoticed."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

from django.apps import AppConfig
from django.core.checks import CheckMessage, Error

from clinic.trail import guards

_mending: ContextVar[bool] = ContextVar("mending", default=False)


@contextmanager
def guards_being_mended() -> Iterator[None]:
    """For migrate alone: it makes missing guards, so a missing guard may not keep it from running."""
    token = _mending.set(True)
    try:
        yield
    finally:
        _mending.reset(token)


def being_mended() -> bool:
    """Asked by other parts whose guards migrate makes as well."""
    return _mending.get()


def every_guard_stands(
    *, app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None, **_options: object
) -> list[CheckMessage]:
    if being_mended():
        return []
    return [
        Error(
            f"The guard {name} is missing in the database {using!r}: its table can be changed unseen.",
            hint="Run: manage.py migrate",
            id="trail.E001",
        )
        for using in databases or ()
        for name in sorted(guards.missing(using))
    ]
