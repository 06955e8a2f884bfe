"""Which of a practice's own words hold now, and which names stand on its signs.

One query each for a batch of messages, however many go out.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from clinic.accounts.models import Site
from clinic.messages.models import Wording

Key = tuple[str, str, str]


@dataclass(slots=True)
class _Batch:
    """Read when the first message of the batch asks; a change counts from the next batch on, in every process."""

    held: Mapping[Key, Wording] | None = None
    names: frozenset[str] | None = None


_BATCH: ContextVar[_Batch | None] = ContextVar("batch_of_wordings", default=None)


@contextmanager
def read_once() -> Iterator[None]:
    token = _BATCH.set(_Batch())
    try:
        yield
    finally:
        _BATCH.reset(token)


def words_of(kind: str, channel: str, language: str) -> Wording | None:
    """None where the program's words hold."""
    batch = _BATCH.get()
    if batch is None:
        return _own(newest_of(kind, channel, language))
    if batch.held is None:
        batch.held = all_newest()
    return _own(batch.held.get((kind, channel, language)))


def names_on_signs() -> frozenset[str]:
    """Of the practice and of every site: none of them tells what a visit is about."""
    batch = _BATCH.get()
    if batch is None:
        return _all_names()
    if batch.names is None:
        batch.names = _all_names()
    return batch.names


def newest_of(kind: str, channel: str, language: str) -> Wording | None:
    """Also one that goes back to the program's words."""
    rows = Wording.objects.filter(kind=kind, channel=channel, language=language)
    return rows.select_related("written_by").order_by("number").last()


def all_newest() -> dict[Key, Wording]:
    rows = Wording.objects.newest().select_related("written_by")
    return {(row.kind, row.channel, row.language): row for row in rows}


def _all_names() -> frozenset[str]:
    rows = Site.objects.values_list("practice__name", "name")
    return frozenset(name for row in rows for name in row)


def _own(row: Wording | None) -> Wording | None:
    return row if row is not None and row.text else None
