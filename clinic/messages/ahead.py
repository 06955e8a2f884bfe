"""What a batch of messages is judged by: read for all of it at once, and looked at again right before each goes out.

Asked message by message, the same questions were most of what a mail cost. What decides has to be true in the moment
itself: once the hand-over has begun, the rows that the judgement rests on are compared with how they were read. When
any of them has changed, everything is read again for this message alone.
"""

import time
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import islice
from typing import Any

from django.db import connection
from django.db.models import Count, Exists, Model, OuterRef, QuerySet, Subquery

from clinic.accounts.models import Site
from clinic.messages import kinds
from clinic.messages.conditions import Known
from clinic.messages.kinds import Reading
from clinic.messages.limits import asked_about, counted, kinds_that_count
from clinic.messages.models import DueMessage, Held, PrivateLink, TextReplies
from clinic.patients.contact import Contact, contacts
from clinic.patients.models import ContactChoice, Patient
from clinic.trail.readymade import Blank, Statement, as_seen, beside, numbers_ahead, once, select

AT_ONCE = 100
# What only the words rest on is not looked at again: behind a slow mail server it is read anew after so long.
GOOD_FOR_SECONDS = 5
Row = tuple[Any, ...]
Rows = list[Row]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """One message as it was read with the others."""

    message: DueMessage
    known: Known
    reading: Reading[Any]
    # The rows that decide, side by side, as the database gave them; none where the subject is gone.
    seen: Rows
    # The key of a link that it may carry.
    number: int | None = None

    def look_again(self, *, now: datetime) -> Known | None:
        """None where anything that decides has changed. The limits are asked about in the same breath."""
        message = self.message
        counting = kinds_that_count() if kinds.get(message.kind).keeps_limits else ()
        asked = asked_about(message.pk, message.patient_id, now) if counting else {"pk": message.pk}
        found = _one(self.reading, counting).rows(subject=message.subject_id, **asked)
        width = len(self.seen[0]) if self.seen else 0
        if [row[:width] for row in found] != self.seen:
            return None
        return replace(self.known, has_others=any(row[-1] for row in found) if counting else False)


class Lookahead:
    def __init__(self, *, now: datetime) -> None:
        self._now = now
        self._asked: Collection[int] = ()
        self._read: dict[int, Ahead] = {}
        self._read_at = 0.0

    def first_of(self, waiting: Collection[Held]) -> Ahead | None:
        """The next ones are read with it; None where it has to be read by itself."""
        first = next(iter(waiting)).pk
        if first not in self._asked or time.monotonic() - self._read_at > GOOD_FOR_SECONDS:
            batch = list(islice(waiting, AT_ONCE))
            self._asked, self._read_at = {message.pk for message in batch}, time.monotonic()
            self._read = _read(batch, now=self._now)
        return self._read.get(first)


def _read(batch: Sequence[Held], *, now: datetime) -> dict[int, Ahead]:
    known = kinds.registered()
    readings = {one.pk: known[one.kind].reading for one in batch if one.kind in known}
    pks = [pk for pk, reading in readings.items() if reading is not None]
    if len(pks) < 2:
        # For a single one nothing would be saved.
        return {}
    # First the rows to compare with: what changes while the rest is read then counts as changed.
    seen = _by_key(_of_messages(DueMessage.objects.filter(pk__in=pks)))
    # Who was merged into somebody else is read with whoever that is, by itself.
    alive = DueMessage.objects.filter(pk__in=pks, patient__merged_into=None)
    by_reading: dict[Reading[Any], list[DueMessage]] = defaultdict(list)
    for message in alive.select_related("patient").prefetch_related("site__practice", "site__text_replies"):
        if (reading := readings[message.pk]) is not None:
            by_reading[reading].append(message)
    chosen = contacts({message.patient_id for messages in by_reading.values() for message in messages})
    linked = [message.pk for messages in by_reading.values() for message in messages if known[message.kind].link]
    numbers = dict(zip(linked, numbers_ahead(PrivateLink, len(linked)), strict=False))
    return {
        one.message.pk: replace(one, number=numbers.get(one.message.pk))
        for reading, messages in by_reading.items()
        for one in _with_subjects(reading, messages, chosen, seen, now)
    }


def _with_subjects(
    reading: Reading[Any],
    messages: Sequence[DueMessage],
    chosen: Mapping[int, Contact],
    seen: Mapping[int, Row],
    now: datetime,
) -> Iterator[Ahead]:
    pks = {message.subject_id for message in messages}
    rows = reading.model._default_manager.filter(pk__in=pks)
    subject_seen = _by_key(_of_subjects(reading, rows))
    subjects = reading.many(pks)
    if reading.further is not None:
        reading.further(list(subjects.values()), now)
    for message in messages:
        yield Ahead(
            message=message,
            known=Known(subject=subjects.get(message.subject_id), chosen=chosen[message.patient_id]),
            reading=reading,
            seen=[(*seen[message.pk], *row) for row in (subject_seen.get(message.subject_id),) if row is not None],
        )


def _by_key(rows: QuerySet[Any, Any]) -> dict[int, Row]:
    """As each is to be found again."""
    with_key = as_seen(select(rows), key="pk").rows()
    return {row[0]: row if connection.vendor == "sqlite" else row[1:] for row in with_key}


@once
def _one(reading: Reading[Any], counting: tuple[str, ...]) -> Statement:
    """With kinds of which others count: at the end, whether there are any to this patient."""
    messages = DueMessage.objects.filter(pk=Blank("pk", DueMessage._meta.pk))
    subjects: Any = reading.model._default_manager.filter(pk=Blank("subject", reading.model._meta.pk))
    both = beside(as_seen(select(_of_messages(messages))), as_seen(select(_of_subjects(reading, subjects))))
    if not counting:
        return both
    one = DueMessage.objects.filter(pk=Blank("pk", DueMessage._meta.pk)).order_by()
    others = one.annotate(has_others=Exists(counted(counting))).values_list("has_others")
    return beside(both, select(others))


def _of_messages(rows: QuerySet[DueMessage]) -> QuerySet[DueMessage, tuple[Any, ...]]:
    """Whom it goes to, from where, and how often they have chosen: each choice is a further row."""
    choices = ContactChoice.objects.filter(patient=OuterRef("patient")).order_by().values("patient")
    columns = ("pk", *_columns(Patient, "patient__"), *_columns(Site, "site__"), "choices")
    columns += tuple(_columns(TextReplies, "site__text_replies__"))
    return rows.annotate(choices=Subquery(choices.annotate(number=Count("pk")).values("number"))).values_list(*columns)


def _of_subjects(reading: Reading[Any], rows: QuerySet[Any]) -> QuerySet[Any, tuple[Any, ...]]:
    model: Any = reading.model
    related = {f"{name}__": model._meta.get_field(name).related_model for name in reading.deciding}
    columns = [column for before, one in related.items() for column in _columns(one, before)]
    return rows.order_by().values_list("pk", *_columns(model), *columns)


def _columns(model: type[Model], before: str = "") -> list[str]:
    return [f"{before}{field.attname}" for field in model._meta.concrete_fields]
