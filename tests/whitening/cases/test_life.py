"""Opening a case, tying visits to it, reading shades, closing it; and that its history only grows."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.http import Http404

from clinic.accounts.rights import Capability, NotAllowed
from tests.cast import NOW, Cast, actor_of
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.access import access_case, plan_in_force
from whitening.cases.actions import (
    AlreadyOpen,
    CaseClosed,
    TooYoung,
    UnknownTab,
    add_visit,
    close_case,
    correct_shade,
    hold_open,
    open_case,
    read_shade,
)
from whitening.cases.models import Case, CloseReason, Moment, VisitPurpose
from whitening.cases.rules import is_old_enough, treatable_on

pytestmark = pytest.mark.django_db


def test_it_works(cast: Cast) -> None:
    case = chairs.a_case(cast)
    assert (case.site, case.patient, case.opened_by) == (cast.fernbrook, cast.patient, cast.desk)
    assert (case.opened_at, case.closed_at, case.expected_cycles) == (NOW, None, 4)


def test_wrong_role(cast: Cast) -> None:
    patient, manager = cast.patient, cast.manager
    with nothing_written(), pytest.raises(NotAllowed):
        open_case(patient=patient, wishes="x", expected_cycles=4, user=manager, actor=actor_of(manager), now=NOW)


def test_other_site(cast: Cast) -> None:
    case = chairs.a_case(cast)
    with pytest.raises(Http404):
        access_case(user=cast.elsewhere, pk=case.pk, to=Capability.CASE_READ)
    assert access_case(user=cast.desk, pk=case.pk, to=Capability.CASE_READ) == case


def test_under_18_is_not_opened_and_says_from_when(cast: Cast) -> None:
    teenager = cast.teenager
    with nothing_written(), pytest.raises(TooYoung, match="Whitening not before 12 Aug 2026, the 18th birthday"):
        open_case(patient=teenager, wishes="x", expected_cycles=4, user=cast.desk, actor=actor_of(cast.desk), now=NOW)


@pytest.mark.parametrize(("birth_on", "day", "old_enough"), [
    (date(2008, 3, 3), date(2026, 3, 2), False),
    (date(2008, 3, 3), date(2026, 3, 3), True),
    # A leap day has its 18th birthday on 1 March of a common year (common practice, no source).
    (date(2008, 2, 29), date(2026, 2, 28), False),
    (date(2008, 2, 29), date(2026, 3, 1), True),
])  # fmt: skip
def test_the_day_of_the_18th_birthday(birth_on: date, day: date, old_enough: bool) -> None:
    assert is_old_enough(birth_on, day) is old_enough
    assert (treatable_on(birth_on) <= day) is old_enough


def test_a_second_open_case_is_refused(cast: Cast) -> None:
    chairs.a_case(cast)
    with nothing_written(), pytest.raises(AlreadyOpen):
        open_case(
            patient=cast.patient, wishes="x", expected_cycles=4, user=cast.desk, actor=actor_of(cast.desk), now=NOW
        )


def test_closed_once_and_then_nothing_is_added(cast: Cast) -> None:
    case = chairs.a_case(cast)
    booking = course.visit_of(cast, case)
    closed = close_case(case=case, reason=CloseReason.PATIENT_ENDED, words="", actor=actor_of(cast.desk), now=NOW)
    assert (closed.closed_at, closed.closed_by, closed.close_reason) == (NOW, "Dana Popescu", "patient_ended")
    assert closed.version == 2
    booking.case_visit.delete()
    with nothing_written():
        with pytest.raises(CaseClosed):
            close_case(case=case, reason=CloseReason.FINISHED, words="", actor=actor_of(cast.desk), now=NOW)
        with pytest.raises(CaseClosed):
            add_visit(case=closed, booking=booking, purpose=VisitPurpose.PROBLEM, actor=actor_of(cast.desk))
        with pytest.raises(CaseClosed), transaction.atomic():
            hold_open(case)


def test_a_session_before_the_18th_birthday_is_refused(cast: Cast) -> None:
    case = chairs.a_case(cast)
    booking = course.visit_of(cast, case)
    booking.case_visit.delete()
    cast.patient.birth_on = booking.wall_on.replace(year=booking.wall_on.year - 18) + timedelta(days=1)
    cast.patient.save()
    case = Case.objects.get(pk=case.pk)
    with nothing_written(), pytest.raises(TooYoung):
        add_visit(case=case, booking=booking, purpose=VisitPurpose.SESSION, actor=actor_of(cast.desk), session_number=1)


@pytest.mark.parametrize(("moment", "provisional"), [
    (Moment.EXAMINATION, False), (Moment.START, False), (Moment.FINISH, True), (Moment.REVIEW, False),
])  # fmt: skip
def test_a_shade_right_after_a_session_is_provisional(cast: Cast, moment: Moment, provisional: bool) -> None:
    reading = read_shade(case=chairs.a_case(cast), moment=moment, tab="A2", actor=actor_of(cast.assistant), now=NOW)
    assert (reading.guide, reading.tab, reading.provisional) == ("classical-16", "A2", provisional)


@pytest.mark.parametrize("tab", ["", "a2", "E1", "A2 "])
def test_a_tab_that_is_not_on_the_guide(cast: Cast, tab: str) -> None:
    case = chairs.a_case(cast)
    with nothing_written(), pytest.raises(UnknownTab):
        read_shade(case=case, moment=Moment.START, tab=tab, actor=actor_of(cast.assistant), now=NOW)


def test_the_newest_version_is_the_plan_in_force(cast: Cast) -> None:
    case = chairs.a_case(cast)
    assert plan_in_force(case) is None
    chairs.a_plan(cast, case)
    second = chairs.a_plan(cast, case)
    assert plan_in_force(case) == second


@pytest.mark.parametrize(
    "table", ["whitening_cases_plan", "whitening_cases_shadereading", "whitening_cases_shadecorrection"]
)
def test_history_only_grows(cast: Cast, table: str) -> None:
    case = chairs.a_case(cast)
    chairs.a_plan(cast, case)
    reading = read_shade(case=case, moment=Moment.START, tab="A2", actor=actor_of(cast.assistant), now=NOW)
    correct_shade(reading=reading, actor=actor_of(cast.assistant), now=NOW)
    for sql in (f"UPDATE {table} SET id = id", f"DELETE FROM {table}"):  # noqa: S608  (our own names)
        with nothing_written(), pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            connection.cursor().execute(sql)
