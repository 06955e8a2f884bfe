"""Many keys sent as one value find the rows that `in` finds."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from clinic.trail.among import Among
from clinic.trail.models import TrailEntry
from tests.plans import asked

pytestmark = pytest.mark.django_db
NINE = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def entries(number: int) -> list[int]:
    what = {"verb": "messages.planned", "actor_kind": "system", "subject_kind": "message", "subject_id": "1"}
    rows = [TrailEntry(nonce=uuid4(), at=NINE, clock_shift_seconds=0, **what) for _ in range(number)]
    return [row.pk for row in TrailEntry.objects.bulk_create(rows)]


class TestAsIn(TestCase):
    @settings(max_examples=60, deadline=None)
    @given(
        there=st.integers(0, 12), picked=st.sets(st.integers(0, 15)), others=st.sets(st.integers(-(2**63), 2**63 - 1))
    )
    def test_it_finds_what_in_finds(self, there: int, picked: set[int], others: set[int]) -> None:
        pks = entries(there)
        keys = [pks[place] for place in picked if place < there] + list(others)
        found = TrailEntry.objects.filter(Among("pk", keys)).values_list("pk", flat=True)
        assert sorted(found) == sorted(TrailEntry.objects.filter(pk__in=keys).values_list("pk", flat=True))


def test_however_many_they_are_one_value_is_sent() -> None:
    pks = entries(3)
    with CaptureQueriesContext(connection) as few:
        assert TrailEntry.objects.filter(Among("pk", pks)).count() == len(pks)
    with CaptureQueriesContext(connection) as many:
        assert TrailEntry.objects.filter(Among("pk", range(pks[0], pks[0] + 5_000))).count() == len(pks)
    shapes = [sql["sql"].partition("[" if connection.vendor == "sqlite" else "{")[0] for sql in (*few, *many)]
    assert shapes[0] == shapes[1]


def test_nobody_else_s_text_gets_into_it() -> None:
    with pytest.raises(ValueError, match="invalid literal"):
        Among("pk", ["1) OR (1=1"])  # type: ignore[list-item]


def test_they_are_found_by_their_key_and_not_by_reading_all() -> None:
    pks = entries(400)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    with asked() as questions:
        assert TrailEntry.objects.filter(Among("pk", pks[:2])).count() == 2
    assert questions.statements
    assert questions.read_through([TrailEntry._meta.db_table]) == []
