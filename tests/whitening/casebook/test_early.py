"""A whitening time that lies before the first day on which it may be is pointed out, without the reason."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from clinic.diary import actions as diary
from clinic.diary.marks import Mark, marks_for
from clinic.diary.models import Booking
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import CALLED, Lived, fresh
from tests.whitening.ownrules import written_over
from whitening.casebook.early import DAYS_AHEAD
from whitening.casebook.lead_times import earliest_for
from whitening.cases.models import VisitPurpose
from whitening.chairside.actions import GatesShut
from whitening.screening.examination import Gums

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
# Whitening at home was stopped on Wednesday 25 February; fourteen days later is Wednesday 11 March.
STOPPED = {"whitening_now": ["stopped"], "whitening_stopped_on": ["2026-02-25"]}

SENTENCE = "Not before Wed 11 Mar 2026; booked for {day}: move it"


def stopped_lately(cast: Cast, *, days: int = 0) -> Lived:
    """Asked, examined, planned and signed; the session is pencilled before the day it has to wait for."""
    case = lived.called(cast)
    case.consultation = lived.book(case, VisitPurpose.CONSULTATION, earliest_at=lived.MONDAY)
    earliest_at = NOW + timedelta(days=days, hours=1)
    case.session = lived.book(case, VisitPurpose.SESSION, earliest_at=earliest_at)
    lived.answer(case, at=CALLED, instead=STOPPED)
    lived.examined(case)
    lived.planned(case)
    lived.signed(case)
    return case


@pytest.fixture
def early(cast: Cast) -> Lived:
    return stopped_lately(cast, days=2)


def booking_of(case: Lived) -> Booking:
    assert case.session is not None
    return fresh(case.session)


def mark_of(case: Lived, cast: Cast) -> Mark:
    booking = booking_of(case)
    return marks_for([booking], user=cast.desk, now=NOW)[booking.pk]


def read(client: Client, name: str, *args: object) -> str:
    return client.get(reverse(name, args=args)).content.decode()


def test_the_mark_says_only_the_days(cast: Cast, early: Lived) -> None:
    mark = mark_of(early, cast)
    assert (mark.kind, mark.move) == ("missing", True)
    assert [str(line) for line in mark.lines] == [f"Booked time: {SENTENCE.format(day='Thu 5 Mar 2026')}"]


@pytest.mark.parametrize("reader", ["desk", "clinician"])
def test_the_case_page_leads_to_another_time(cast: Cast, early: Lived, reader: str) -> None:
    page = read(sign_in(getattr(cast, reader)), "case", early.case.pk)
    assert SENTENCE.format(day="Thu 5 Mar 2026") in page
    assert reverse("booking_move", args=[booking_of(early).pk]) in page
    assert "waiting until" in page


def test_today_lists_it_days_before(cast: Cast, early: Lived) -> None:
    page = read(sign_in(cast.desk), "today")
    assert "Booked too early: move these" in page
    assert SENTENCE.format(day="Thu 5 Mar 2026") in page
    assert "at home" not in page
    assert reverse("booking_move", args=[booking_of(early).pk]) in page
    # Who may not give times sees that it is wrong, and is offered nothing.
    assert reverse("booking_move", args=[booking_of(early).pk]) not in read(sign_in(cast.manager), "today")


def test_today_looks_so_many_days_ahead(cast: Cast, early: Lived) -> None:
    Booking.objects.filter(pk=booking_of(early).pk).update(wall_on=NOW.date() + timedelta(days=DAYS_AHEAD + 1))
    assert "Booked too early" not in read(sign_in(cast.desk), "today")


def test_of_today_it_stands_among_who_comes(cast: Cast) -> None:
    case = stopped_lately(cast)
    page = read(sign_in(cast.desk), "today")
    assert "Booked too early" not in page
    assert SENTENCE.format(day="Tue 3 Mar 2026") in page
    assert reverse("booking_move", args=[booking_of(case).pk]) in page


def test_the_diary_says_it_and_leads_there(cast: Cast, early: Lived) -> None:
    page = read(sign_in(cast.desk), "diary_day", "2026-03-05")
    assert SENTENCE.format(day="Thu 5 Mar 2026") in page
    assert reverse("booking_move", args=[booking_of(early).pk]) in page


def test_another_time_is_looked_for_from_that_day_on(cast: Cast, early: Lived) -> None:
    client = sign_in(cast.desk)
    answer = client.get(reverse("booking_move", args=[booking_of(early).pk]))
    assert answer.context["openings"].found[0].start_at.date() == date(2026, 3, 11)
    assert "The search starts there." in answer.content.decode()
    diary.cancel(booking=booking_of(early), by="practice", reason="", actor=actor_of(cast.desk), now=NOW)
    answer = client.get(reverse("case_time", args=[early.case.pk, VisitPurpose.SESSION]))
    assert answer.context["openings"].found[0].start_at.date() == date(2026, 3, 11)
    assert "Not before" in answer.content.decode()
    assert "at home" not in answer.content.decode()


def test_a_consultation_waits_for_nothing(cast: Cast, early: Lived) -> None:
    answer = sign_in(cast.desk).get(reverse("case_time", args=[early.case.pk, VisitPurpose.PROBLEM]))
    assert "The search starts there." not in answer.content.decode()


def test_once_moved_nothing_is_missing(cast: Cast, early: Lived) -> None:
    wanted = sign_in(cast.desk).get(reverse("booking_move", args=[booking_of(early).pk])).context["openings"].found[0]
    diary.move(booking=booking_of(early), start_at=wanted.start_at, actor=actor_of(cast.desk), now=NOW)
    assert mark_of(early, cast).lines == ()
    assert "Booked too early" not in read(sign_in(cast.desk), "today")


def test_nothing_starts_too_early(cast: Cast) -> None:
    case = stopped_lately(cast)
    lived.confirmed(case)
    lived.here(case)
    with nothing_written(), pytest.raises(GatesShut, match="Booked time"):
        lived.started(case)


def test_a_clinical_event_is_asked_beside_the_time(cast: Cast) -> None:
    """Gums that bled fourteen days ago have not healed by that: the time may be right, and a dentist looks first."""
    case = lived.with_answers(cast)
    lived.examined(case, gums=Gums(inflamed=True))
    lived.planned(case)
    lines = [str(line) for line in mark_of(case, cast).lines]
    assert "Booked time: Not before Mon 16 Mar 2026; booked for Tue 3 Mar 2026: move it" in lines
    assert "Health questions: Dentist to decide" in lines


def test_a_deferral_counts(cast: Cast) -> None:
    case = lived.agreed(cast)
    lived.put_off(cast, case.case, date(2026, 3, 10))
    assert [str(line) for line in mark_of(case, cast).lines] == [
        "Booked time: Not before Tue 10 Mar 2026; booked for Tue 3 Mar 2026: move it"
    ]


def test_cooling_off_counts_until_it_is_signed(cast: Cast) -> None:
    written_over(cast, cooling_off_days="7")
    case = lived.with_answers(cast)
    lived.examined(case)
    lived.planned(case)
    course.talked(cast, case.case, now=lived.MONDAY)
    early_line = "Booked time: Not before Mon 9 Mar 2026; booked for Tue 3 Mar 2026: move it"
    assert early_line in [str(line) for line in mark_of(case, cast).lines]
    # A consultation ahead is a talk ahead: the session is looked for after the days between.
    call = lived.called(cast, name="Bo Andersson")
    lived.book(call, VisitPurpose.CONSULTATION, earliest_at=NOW)
    assert earliest_for(call.case, VisitPurpose.SESSION, now=NOW).date() == date(2026, 3, 10)


def test_whoever_was_born_later_than_was_written_waits(cast: Cast) -> None:
    """The age is asked again when the time is given; a birth date that is put right later still counts."""
    case = lived.agreed(cast)
    case.case.patient.birth_on = date(2008, 3, 9)
    case.case.patient.save()
    assert "Booked time: Not before Mon 9 Mar 2026; booked for Tue 3 Mar 2026: move it" in map(
        str, mark_of(case, cast).lines
    )
