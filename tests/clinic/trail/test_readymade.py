"""Statements that are made once say the same as those of the ORM."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from clinic.trail.readymade import (
    PLANNED_ANEW,
    Blank,
    Statement,
    as_seen,
    beside,
    blanks,
    in_places,
    insert_numbered,
    numbers_ahead,
    once,
    select,
    update,
    write_new,
    write_unless_there,
)
from tests.cast import Cast

pytestmark = pytest.mark.django_db
LATER = datetime(2026, 3, 3, 9, 0, 0, 123456, tzinfo=UTC)


def an_entry() -> TrailEntry:
    what = {"verb": "messages.planned", "actor_kind": "system", "subject_kind": "message", "subject_id": "1"}
    return TrailEntry(nonce=uuid4(), at=LATER, clock_shift_seconds=0, **what)


def test_a_new_row_reads_back_as_it_was_written() -> None:
    entry = an_entry()
    write_new(entry)
    assert TrailEntry.objects.filter(pk=entry.pk).values().get() == {
        field.attname: getattr(entry, field.attname) for field in TrailEntry._meta.concrete_fields
    }


def test_a_constraint_refuses_it_as_ever() -> None:
    first, second = an_entry(), an_entry()
    second.nonce = first.nonce
    write_new(first)
    with pytest.raises(IntegrityError), transaction.atomic():
        write_new(second)
    assert TrailEntry.objects.count() == 1


def test_several_rows_in_one_statement() -> None:
    some = [an_entry() for _ in range(3)]
    with CaptureQueriesContext(connection) as asked:
        write_new(*some)
    assert len(asked) == 1
    written = TrailEntry.objects.in_bulk([one.pk for one in some])
    assert [written[one.pk].nonce for one in some] == [one.nonce for one in some]


def test_only_what_is_not_there_yet_is_written() -> None:
    first, second, other = an_entry(), an_entry(), an_entry()
    second.nonce = first.nonce
    assert [write_unless_there(one) for one in (first, second, other)] == [True, False, True]
    assert second.pk is None
    assert list(TrailEntry.objects.order_by("pk").values_list("pk", flat=True)) == [first.pk, other.pk]


def test_values_are_those_of_the_orm(cast: Cast) -> None:
    columns = ("name", "birth_on", "registered_at", "needs_interpreter", "died_on")
    theirs = select(Patient.objects.filter(**blanks(Patient, "email")).values_list(*columns))
    patient = Patient.objects.get(pk=cast.patient.pk)
    [found] = theirs.values(email=patient.email)
    assert found == [getattr(patient, name) for name in columns]
    assert [type(one) for one in found] == [type(getattr(patient, name)) for name in columns]


def test_blanks_are_filled_in_each_time(cast: Cast) -> None:
    people = Patient.objects.filter(**blanks(Patient, "email")).order_by().values_list("pk")
    asked = select(people)
    assert asked.rows(email=cast.patient.email) == [(cast.patient.pk,)]
    assert asked.rows(email="nobody@example.org") == []


def test_an_update_says_how_many_rows_it_changed(cast: Cast) -> None:
    held = Patient.objects.filter(phone_wrong_at=None, pk=Blank("key", Patient._meta.pk))
    noted = update(held, **blanks(Patient, "phone_wrong_at"))
    assert [noted.run(key=cast.patient.pk, phone_wrong_at=at) for at in (LATER, LATER + timedelta(days=1))] == [1, 0]
    cast.patient.refresh_from_db()
    assert cast.patient.phone_wrong_at == LATER
    assert noted.run(key=0, phone_wrong_at=None) == 0


def test_a_value_that_is_not_given_is_a_mistake(cast: Cast) -> None:
    asked = select(Patient.objects.filter(**blanks(Patient, "email")).values_list("pk"))
    with pytest.raises(KeyError):
        asked.rows(phone=cast.patient.phone)


def test_each_is_made_once() -> None:
    made: list[str] = []

    @once
    def by(name: str) -> Statement:
        made.append(name)
        return select(Patient.objects.filter(**blanks(Patient, name)).values_list("pk"))

    with CaptureQueriesContext(connection) as asked:
        for name in ("email", "name", "email"):
            by(name).rows(email="nobody@example.org", name="Nobody")
    assert (made, len(asked)) == (["email", "name"], 3)


def test_two_questions_in_one(cast: Cast) -> None:
    mine = select(Patient.objects.filter(**blanks(Patient, "email")).order_by().values_list("pk", "name"))
    whose = select(Patient.objects.filter(pk=Blank("key", Patient._meta.pk)).order_by().values_list("pk"))
    both, patient = beside(mine, whose), cast.patient
    assert both.rows(email=patient.email, key=patient.pk) == [(patient.pk, patient.name, patient.pk)]
    assert both.rows(email=patient.email, key=0) == both.rows(email="nobody@example.org", key=patient.pk) == []


def test_a_row_with_a_key_that_was_taken_ahead(cast: Cast) -> None:
    if connection.vendor != "postgresql":
        assert numbers_ahead(TrailEntry, 2) == []
        return
    first, second = numbers_ahead(TrailEntry, 2)
    entry = an_entry()
    entry.pk = second
    assert insert_numbered(TrailEntry).run(**in_places(entry)) == 1
    write_new(later := an_entry())
    assert first < second < later.pk
    assert TrailEntry.objects.filter(pk=second).values().get() == {
        field.attname: getattr(entry, field.attname) for field in TrailEntry._meta.concrete_fields
    }


def test_a_mistake_in_the_database_is_the_orms_and_ends_the_transaction(cast: Cast) -> None:
    asked = select(Patient.objects.filter(pk=Blank("key", Patient._meta.pk)).values_list("pk"))
    twice = an_entry()
    write_new(twice)
    with transaction.atomic():
        with pytest.raises(IntegrityError), transaction.atomic(savepoint=False):
            write_new(twice)
        with pytest.raises(transaction.TransactionManagementError):
            asked.rows(key=cast.patient.pk)
        transaction.set_rollback(True)


def test_whoever_listens_hears_it(cast: Cast) -> None:
    heard: list[str] = []

    def listen(execute: Callable[..., Any], sql: str, *rest: Any) -> object:
        heard.append(sql)
        return execute(sql, *rest)

    asked = select(Patient.objects.filter(pk=Blank("key", Patient._meta.pk)).order_by().values_list("pk"))
    patient = cast.patient.pk
    with connection.execute_wrapper(listen):
        assert asked.rows(key=patient) == [(patient,)]
    assert heard == [asked.sql]


@pytest.mark.parametrize("change", [{"allergies": "latex"}, {"died_on": LATER.date()}, {"registered_at": LATER}])
def test_a_row_as_it_was_seen_is_another_once_anything_in_it_changes(cast: Cast, change: dict[str, object]) -> None:
    rows = Patient.objects.filter(pk=Blank("key", Patient._meta.pk)).order_by()
    columns = [column.attname for column in Patient._meta.concrete_fields]
    asked, patient = as_seen(select(rows.values_list(*columns))), cast.patient.pk
    before = asked.rows(key=patient)
    assert asked.rows(key=patient) == before
    Patient.objects.filter(pk=patient).update(**change)
    after = asked.rows(key=patient)
    assert (len(after), after == before) == (1, False)
    keyed = as_seen(select(rows.values_list(*columns)), key="id").rows(key=patient)
    assert keyed == (after if connection.vendor == "sqlite" else [(patient, *after[0])])


def test_the_server_keeps_the_plan_of_these_and_of_no_others(cast: Cast) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite keeps what it has read by itself")
    asked = select(Patient.objects.filter(**blanks(Patient, "email")).values_list("pk"))
    for _ in range(PLANNED_ANEW + 1):
        asked.rows(email=cast.patient.email)
        list(Patient.objects.filter(name=cast.patient.name))
    with connection.cursor() as cursor:
        cursor.execute("SELECT statement FROM pg_prepared_statements WHERE statement LIKE %s", ["%clinic_patients%"])
        kept = [statement for (statement,) in cursor.fetchall()]
    assert kept == [asked.sql.replace("%s", "$1")]
