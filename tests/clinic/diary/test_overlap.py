"""The database itself refuses two visits of one resource at one time, whoever writes and however."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.core import checks
from django.db import IntegrityError, connection, transaction
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary import overlap
from clinic.diary.models import Booking, ResourceClaim
from clinic.trail.checks import guards_being_mended
from tests.cast import Cast
from tests.clinic.diary.house import another_patient, at, book, resource

SQLITE = connection.vendor == "sqlite"
INSERT = (
    "INSERT INTO resource_claim (booking_id, resource_id, need, segment, start_at, end_at, active) "
    "VALUES (%s, %s, 'room', 'by hand', %s, %s, %s)"
)
Interval = tuple[datetime, datetime]


def sql(statement: str, *values: Any) -> None:
    """Straight to the database: no action, no model, no signal."""
    adapted = [connection.ops.adapt_datetimefield_value(v) if isinstance(v, datetime) else v for v in values]
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, adapted)


@pytest.fixture
def held(diary: Cast) -> ResourceClaim:
    """Willow, 9:00 to 9:30 (and until 9:35 for the turn-round)."""
    return book(diary, at(9)).claims.get(resource=resource("Willow"), segment="Talk and examination")


def insert(claim: ResourceClaim, start_at: datetime, end_at: datetime, *, active: bool = True) -> None:
    sql(INSERT, claim.booking_id, claim.resource_id, start_at, end_at, active)


@pytest.mark.parametrize(
    ("start_at", "end_at"),
    [
        (at(9), at(9, 30)),  # the same
        (at(9, 10), at(9, 20)),  # inside
        (at(8), at(10)),  # around
        (at(8, 59), at(9, 1)),  # over the start
        (at(9, 34), at(10)),  # over the end
        (at(9, 34) + timedelta(microseconds=59_999_999), at(10)),
    ],
)
def test_a_raw_insert_is_refused(held: ResourceClaim, start_at: datetime, end_at: datetime) -> None:
    with pytest.raises(IntegrityError, match=overlap.CONSTRAINT):
        insert(held, start_at, end_at)
    assert ResourceClaim.objects.filter(segment="by hand").count() == 0


@pytest.mark.parametrize(("start_at", "end_at"), [(at(8), at(9)), (at(9, 35), at(10)), (at(12), at(13))])
def test_what_only_touches_is_no_overlap(held: ResourceClaim, start_at: datetime, end_at: datetime) -> None:
    """Half open: the minute at which one ends is the other's."""
    insert(held, start_at, end_at)
    assert ResourceClaim.objects.filter(segment="by hand").count() == 1


def test_another_resource_and_an_inactive_claim_are_free(held: ResourceClaim) -> None:
    insert(held, at(9), at(9, 30), active=False)
    sql(INSERT, held.booking_id, resource("Alder").pk, at(9), at(9, 30), True)


@pytest.mark.parametrize(
    ("column", "value"),
    [("start_at", at(9, 5)), ("end_at", at(10, 30)), ("resource_id", "Willow"), ("active", True)],
)
def test_a_raw_update_is_refused(diary: Cast, held: ResourceClaim, column: str, value: Any) -> None:
    """Pulled over another claim from later, from earlier, from another room, or made active again."""
    where: dict[str, tuple[str, datetime, datetime, bool]] = {
        "start_at": ("Willow", at(9, 40), at(10), True),
        "end_at": ("Willow", at(8), at(8, 30), True),
        "resource_id": ("Alder", at(9), at(9, 30), True),
        "active": ("Willow", at(9), at(9, 30), False),
    }
    room, start_at, end_at, active = where[column]
    other = book(diary, at(14), patient=another_patient(diary))
    sql(INSERT, other.pk, resource(room).pk, start_at, end_at, active)
    wanted = resource(value).pk if column == "resource_id" else value
    with pytest.raises(IntegrityError, match=overlap.CONSTRAINT):
        sql(f"UPDATE resource_claim SET {column} = %s WHERE segment = 'by hand'", wanted)  # noqa: S608  (our names)
    kept = ResourceClaim.objects.get(segment="by hand")
    assert (kept.resource.name, kept.start_at, kept.end_at, kept.active) == where[column]


def test_many_rows_in_one_statement(held: ResourceClaim) -> None:
    same = {"booking": held.booking, "resource": resource("Alder"), "need": "room", "segment": "by hand"}
    rows = [ResourceClaim(**same, start_at=at(12, minute), end_at=at(13, minute)) for minute in (0, 30)]
    with pytest.raises(IntegrityError), transaction.atomic():
        ResourceClaim.objects.bulk_create(rows)
    assert ResourceClaim.objects.filter(segment="by hand").count() == 0


def test_reactivating_in_bulk(diary: Cast, held: ResourceClaim) -> None:
    insert(held, at(9), at(9, 30), active=False)
    with pytest.raises(IntegrityError), transaction.atomic():
        ResourceClaim.objects.update(active=True)
    assert diary.fernbrook.bookings.count() == 1


def test_a_claim_may_be_changed_where_it_stands(held: ResourceClaim) -> None:
    sql("UPDATE resource_claim SET segment = 'Talk' WHERE id = %s", held.pk)
    assert ResourceClaim.objects.get(pk=held.pk).segment == "Talk"


def test_like_a_plain_model(diary: Cast) -> None:
    """A list of intervals that takes what touches nothing; the database takes the very same ones."""
    booking, alder = book(diary, at(16), tell=False), resource("Alder").pk

    @given(st.lists(st.tuples(st.integers(0, 20), st.integers(1, 6)), max_size=12))
    def both(some: list[tuple[int, int]]) -> None:
        taken = list[Interval]()
        for start, length in some:
            start_at = at(9) + timedelta(minutes=start * 5)
            end_at = start_at + timedelta(minutes=length * 5)
            free = all(end_at <= left or right <= start_at for left, right in taken)
            try:
                sql(INSERT, booking.pk, alder, start_at, end_at, True)
            except IntegrityError:
                assert not free
            else:
                assert free
                taken.append((start_at, end_at))
        ResourceClaim.objects.filter(segment="by hand").delete()

    both()


@pytest.mark.skipif(not SQLITE, reason="PostgreSQL looks into the index of its constraint")
def test_the_history_of_a_resource_is_not_read_through(held: ResourceClaim) -> None:
    with connection.cursor() as cursor:
        question = overlap.IN_THE_WAY.format(new="new_one")
        cursor.execute(f"EXPLAIN QUERY PLAN SELECT {question} FROM resource_claim AS new_one")  # noqa: S608  (our names)
        steps = [str(detail) for *_, detail in cursor.fetchall() if " other " in f" {detail} " or "B-TREE" in detail]
    assert sorted(steps) == [
        "SEARCH other USING INDEX claim_by_resource (resource_id=? AND start_at<?)",
        "SEARCH other USING INDEX claim_by_resource (resource_id=? AND start_at>? AND start_at<?)",
    ]


def guard_there() -> bool:
    return overlap._missing(connection) == []


def drop_guard() -> None:
    statements = (
        [f"DROP TRIGGER {name}" for name in overlap._EVENTS]
        if SQLITE
        # Rows of this transaction whose foreign keys are still to be checked keep a table from being altered.
        else ["SET CONSTRAINTS ALL IMMEDIATE", f"ALTER TABLE resource_claim DROP CONSTRAINT {overlap.CONSTRAINT}"]
    )
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def test_a_missing_guard_is_an_error_and_migrate_mends_it(held: ResourceClaim) -> None:
    run = {"app_configs": None, "databases": ["default"]}
    assert overlap.check(**run) == []  # type: ignore[arg-type]
    drop_guard()
    assert [one.id for one in overlap.check(**run)] == ["clinic_diary.E001"]  # type: ignore[arg-type]
    assert "clinic_diary.E001" in {
        one.id for one in checks.run_checks(databases=["default"], include_deployment_checks=False)
    }
    with guards_being_mended():
        # Or migrate itself, which mends it, could never start.
        assert overlap.check(**run) == []  # type: ignore[arg-type]
    overlap.ensure(apps.get_app_config("clinic_diary"), using="default")
    assert guard_there()
    with pytest.raises(IntegrityError):
        insert(held, at(9), at(9, 30))


def test_twice_is_as_good_as_once(db: None) -> None:
    overlap.ensure(apps.get_app_config("clinic_diary"), using="default")
    overlap.ensure(apps.get_app_config("clinic_diary"), using="default")
    assert guard_there()


def test_one_trigger_of_two_is_not_enough(db: None) -> None:
    if not SQLITE:
        pytest.skip("PostgreSQL has one constraint for both")
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {overlap.CONSTRAINT}_update")
    assert not guard_there()
    overlap.ensure(apps.get_app_config("clinic_diary"), using="default")
    assert guard_there()


def test_bookings_and_claims_go_together(diary: Cast) -> None:
    booking = book(diary, at(9))
    Booking.objects.filter(pk=booking.pk).delete()
    assert ResourceClaim.objects.count() == 0
