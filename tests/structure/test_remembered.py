"""What is put back is what was built, and only for the same beginning."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from functools import partial

import pytest
import time_machine
from django.core import mail
from django.db import connection, transaction

from clinic.accounts.models import Site
from clinic.patients.models import Patient
from tests.cast import NOW, Cast
from tests.clinic.diary.house import another_patient, furnish
from tests.remembered import _circumstances, remembered
from tests.support import database_contents

built: list[str] = []


@remembered
def a_patient(cast: Cast, word: str = "") -> Patient:
    """Rows, an entry in the trail, and somebody whom the cast learns of."""
    built.append(word)
    return cast.patient


@remembered
def a_mail(_cast: Cast) -> None:
    built.append("mail")
    mail.send_mail("Hello", "Text", None, ["amara@example.org"])


@remembered
def a_change(cast: Cast) -> None:
    built.append("change")
    Site.objects.filter(pk=cast.alderton.pk).update(name="Quay")


@pytest.fixture(autouse=True)
def _nothing_built_yet(cast: Cast) -> None:
    built.clear()


@contextmanager
def undone(cast: Cast) -> Iterator[None]:
    """The next test finds neither the rows nor what the cast had learned."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
    vars(cast).pop("patient", None)


def often(cast: Cast, build: Callable[[Cast], object], times: int = 3) -> int:
    for _time in range(times):
        with undone(cast):
            build(cast)
    return len(built)


def test_a_furnished_practice_is_put_back_as_it_was(cast: Cast) -> None:
    seen = []
    for _time in range(3):
        with undone(cast):
            furnish(cast)
            seen.append(database_contents(leave_out=()))
    assert seen[0]["clinic_diary_segment"].rows > 0
    assert seen[0]["trail_entry"].rows > 0
    assert seen[0] == seen[1] == seen[2]


@pytest.mark.skipif("not config.getoption('--db') == 'postgres'", reason="only PostgreSQL reads side by side")
def test_a_beginning_reads_the_same_however_the_server_reads_it(cast: Cast) -> None:
    plain = repr(list(_circumstances(cast)))
    with transaction.atomic(), connection.cursor() as cursor:
        for setting in ("parallel_setup_cost", "parallel_tuple_cost", "min_parallel_table_scan_size"):
            cursor.execute(f"SET LOCAL {setting} = 0")
        assert {repr(list(_circumstances(cast))) for _time in range(20)} == {plain}


def test_it_is_built_once(cast: Cast) -> None:
    with undone(cast):
        first = a_patient(cast, "once")
    again = a_patient(cast, "once")
    assert built == ["once"]
    assert (again.pk, again.name, again is first) == (first.pk, "Amara Nwosu", False)
    # Whom the test knows already stays the same object, and the cast has learned of the patient.
    assert again.site is cast.fernbrook
    assert cast.patient is again
    assert Patient.objects.get() == again


def test_new_rows_get_new_keys(cast: Cast) -> None:
    with undone(cast):
        a_patient(cast, "keys")
    one = a_patient(cast, "keys")
    assert built == ["keys"]
    assert another_patient(cast).pk > one.pk


def test_other_words_are_another_building(cast: Cast) -> None:
    for word in ("this", "that"):
        with undone(cast):
            a_patient(cast, word)
    assert built == ["this", "that"]


def test_a_database_that_differs_is_built_in(cast: Cast) -> None:
    with undone(cast):
        a_patient(cast, "differs")
    Site.objects.filter(pk=cast.alderton.pk).update(name="Quay")
    a_patient(cast, "differs")
    assert built == ["differs", "differs"]


def test_people_changed_in_memory_alone_are_built_with(cast: Cast) -> None:
    with undone(cast):
        a_patient(cast, "memory")
    cast.clinician.may_prescribe = False
    a_patient(cast, "memory")
    assert built == ["memory", "memory"]


def test_another_time_is_built_at(cast: Cast) -> None:
    for moment in (NOW, NOW + timedelta(hours=1)):
        with time_machine.travel(moment, tick=False):
            often(cast, partial(a_patient, word="time"), times=2)
    assert built == ["time", "time"]


@pytest.mark.parametrize("build", [a_mail, a_change], ids=["mail", "change"])
def test_what_rows_do_not_tell_is_built_each_time(cast: Cast, build: Callable[[Cast], object]) -> None:
    assert often(cast, build) == 3
