"""The patient's own pages: one question at a time, left and resumed, handed in once, never read back to a stranger."""

import re
from datetime import date, timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from tests.cast import NOW, Cast, actor_of
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.screening.someone import ALL_WELL, FOLLOWING
from whitening.cases.actions import close_case
from whitening.cases.models import Case, CloseReason
from whitening.screening.models import AnswerDraft, AnswerSet
from whitening.screening.questions import home_questions
from whitening.screening.views.questions import call_by

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]
START = "/p/questions/"
DONE = "/p/questions/done/"
THANKS = "/p/questions/thanks/"


@pytest.fixture
def case(cast: Cast) -> Case:
    return chairs.a_case(cast)


@pytest.fixture
def phone(cast: Cast, case: Case) -> Client:
    """Known by the date of birth; no code was asked for."""
    return course.phone_of(cast, course.visit_of(cast, case), code_passed=False)


def of(name: str) -> str:
    return reverse("question", args=[name])


def answer_all(phone: Client, **changed: object) -> None:
    wanted = ALL_WELL | FOLLOWING | changed
    where = phone.get(START)["Location"]
    while where != DONE:
        name = where.split("/")[-2]
        where = phone.post(where, {"answer": course.raw(wanted[name])})["Location"]  # type: ignore[arg-type]


def test_it_works(phone: Client, case: Case) -> None:
    answer_all(phone)
    assert phone.get(DONE).status_code == 200
    assert phone.post(DONE)["Location"] == THANKS
    row = AnswerSet.objects.get()
    assert (row.case, row.source, row.given_on, row.handed_in_by) == (case, "link", date(2026, 3, 3), "Amara Nwosu")
    assert course.given(row) == ALL_WELL
    page = phone.get(THANKS).content.decode()
    assert "Thank you. A dentist reads your answers before your visit. Nothing is decided yet." in page
    assert "we will call you by Thu 5 Mar 2026." in page
    assert "Call +44 20 7946 0100." in page


def test_looking_writes_nothing(phone: Client) -> None:
    with nothing_written():
        for path in (START, of("medicines"), DONE, THANKS, "/p/reading/"):
            phone.get(path)


def test_left_and_resumed(phone: Client) -> None:
    first = phone.get(START)["Location"]
    assert first == of("medicines")
    assert phone.post(first, {"answer": ["ibuprofen"]})["Location"] == of("light_medicines")
    assert phone.get(START)["Location"] == of("light_medicines")
    assert AnswerDraft.objects.get().values == {"medicines": ["ibuprofen"]}


def test_several_ticked_and_none_of_these(phone: Client) -> None:
    """Shown again as they were ticked, and read back in their own words."""
    phone.post(of("eyes"), {"answer": ["glasses", "lens"]})
    page = phone.get(of("eyes")).content.decode()
    assert re.findall(r'value="(\w+)" checked', page) == ["lens", "glasses"]
    answer_all(phone, eyes=("lens", "glasses"), allergies=())
    page = phone.get(DONE).content.decode()
    assert "I had a cataract operation, I wear glasses" in page
    assert "None of these" in page


def test_back_leads_to_the_question_before(phone: Client) -> None:
    phone.post(of("medicines"), {"answer": ["none"]})
    page = phone.get(of("light_medicines")).content.decode()
    assert f'href="{of("medicines")}"' in page
    assert f"Question 2 of {len(home_questions({}))}" in page
    # In the same visit the answer is still there.
    assert re.search(r'id="answer_none" value="none" checked', phone.get(of("medicines")).content.decode())


@pytest.mark.parametrize("sent", [{}, {"answer": ""}, {"answer": " \n "}, {"answer": "\x00"}])
def test_unanswered_is_never_no(phone: Client, sent: dict[str, str]) -> None:
    with nothing_written():
        for name in ("medicines", "reacted_to_peroxide", "sensitivity", "eyes"):
            answer = phone.post(of(name), sent)
            assert answer.status_code == 422
            assert 'role="alert"' in answer.content.decode()


@pytest.mark.parametrize(("name", "sent", "sentence"), [
    ("reacted_to_peroxide", "perhaps", "Choose one of the answers shown."),
    ("sensitivity", "11", "Give a whole number from 0 to 10."),
    ("medicines", "x" * 121, "This is more than fits here."),
    ("eyes", ["none", "lens"], "You picked something and “none of these”."),
])  # fmt: skip
def test_bad_input_is_kept_on_the_page_and_nowhere_else(phone: Client, name: str, sent: str, sentence: str) -> None:
    with nothing_written():
        answer = phone.post(of(name), {"answer": sent})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    if name == "medicines":
        assert sent in answer.content.decode()


@pytest.mark.parametrize(("day", "sentence"), [
    ("2026-03-04", "This day has not come yet."),
    ("2026-02-30", "This is not a date of the calendar."),
    ("1919-01-01", "more than 100 years ago"),
])  # fmt: skip
def test_wrong_dates(phone: Client, day: str, sentence: str) -> None:
    phone.post(of("whitened_before"), {"answer": "yes"})
    with nothing_written():
        answer = phone.post(of("whitened_last_on"), {"answer": day})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_an_answer_that_no_longer_applies_is_dropped(phone: Client) -> None:
    phone.post(of("whitened_before"), {"answer": "yes"})
    phone.post(of("whitened_last_on"), {"answer": "2025-01-31"})
    phone.post(of("whitened_before"), {"answer": "no"})
    assert AnswerDraft.objects.get().values == {"whitened_before": "no"}
    assert phone.get(of("whitened_last_on")).status_code == 404


def test_nothing_is_handed_in_while_a_question_is_open(phone: Client) -> None:
    phone.post(of("medicines"), {"answer": "none"})
    with nothing_written():
        assert phone.get(DONE)["Location"] == START
        refused = phone.post(DONE)
    assert refused.status_code == 409
    assert "Some questions have no answer yet." in refused.content.decode()


def test_handed_in_once(phone: Client) -> None:
    answer_all(phone)
    phone.post(DONE)
    with nothing_written():
        assert phone.post(DONE)["Location"] == THANKS
        assert phone.get(START)["Location"] == THANKS


def test_a_page_from_before_handing_in_begins_nothing_anew(phone: Client) -> None:
    """Else one press on an old page would ask all 35 questions again, without a word why."""
    answer_all(phone)
    old = phone.get(of("smoking")).context["round"]
    phone.post(DONE)
    with nothing_written():
        answer = phone.post(of("smoking"), {"answer": "many", "round": old}, follow=True)
    assert answer.redirect_chain == [(THANKS, 302)]
    assert "This page was older than what you handed in. Nothing was changed." in answer.content.decode()
    fresh = phone.get(of("smoking")).context["round"]
    phone.post(of("smoking"), {"answer": "many", "round": fresh})
    assert AnswerDraft.objects.get().values == {"smoking": "many"}


def test_a_list_without_a_line_says_what_to_do(phone: Client) -> None:
    page = phone.post(of("medicines"), {"answer": ""}).content.decode()
    assert "Nothing is written here yet. Write it down, or tick the box below the lines." in page
    assert "say so" not in page


def test_answering_again_is_a_new_set_and_the_first_stays(phone: Client) -> None:
    answer_all(phone)
    phone.post(DONE)
    phone.post(of("medicines"), {"answer": "amoxicillin"})
    answer_all(phone)
    phone.post(DONE)
    first, second = AnswerSet.objects.order_by("pk")
    assert course.given(first)["medicines"] == ()
    assert course.given(second)["medicines"] == ("amoxicillin",)


def test_an_answer_of_another_visit_is_read_back_only_after_the_code(cast: Cast, case: Case) -> None:
    booking = course.visit_of(cast, case)
    first = course.phone_of(cast, booking, code_passed=False)
    first.post(of("medicines"), {"answer": "drops from the chemist"})
    assert "drops from the chemist" in first.get(of("medicines")).content.decode()
    second = course.phone_of(cast, booking, code_passed=False)
    page = second.get(of("medicines")).content.decode()
    assert "drops from the chemist" not in page
    assert "You answered this when you opened the page before." in page
    answer_all(second)
    overview = second.get(DONE).content.decode()
    assert "drops from the chemist" not in overview
    assert reverse("questions_shown") in overview
    assert second.get(reverse("questions_shown"))["Location"].startswith("/p/code/")
    with_code = course.phone_of(cast, booking, code_passed=True)
    assert with_code.get(reverse("questions_shown"))["Location"] == DONE
    assert "drops from the chemist" in with_code.get(DONE).content.decode()


def test_a_closed_case_is_asked_nothing(cast: Cast, case: Case, phone: Client) -> None:
    close_case(case=case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=NOW)
    with nothing_written():
        for path in (START, of("medicines"), DONE, THANKS, "/p/reading/"):
            assert phone.get(path).status_code == 404
            assert phone.post(path, {"answer": "none"}).status_code in {404, 405}


def test_another_patients_visit_shows_nothing(cast: Cast, phone: Client) -> None:
    """The link says whose page it is: no address leads anywhere else."""
    assert phone.get("/p/questions/no_such_question/").status_code == 404
    assert Client().get(START).status_code == 410


def test_reading_ahead_signs_nothing(phone: Client) -> None:
    assert phone.post("/p/reading/")["Location"] == reverse("before_visit")
    assert AnswerDraft.objects.get().read_ahead
    assert "nothing is signed yet" in phone.get("/p/reading/").content.decode()


def test_the_visit_page_lists_what_is_to_do(phone: Client) -> None:
    page = phone.get(reverse("before_visit")).content.decode()
    assert "Still to do: 2 things" in page
    answer_all(phone)
    phone.post(DONE)
    phone.post("/p/reading/")
    assert "Everything is ready" in phone.get(reverse("before_visit")).content.decode()


@pytest.mark.parametrize(("handed_in_on", "visit_on", "expected"), [
    (date(2026, 3, 3), date(2026, 3, 20), date(2026, 3, 5)),
    # Over a weekend: Thursday's second working day is Monday.
    (date(2026, 3, 5), date(2026, 3, 20), date(2026, 3, 9)),
    # Never after the visit itself.
    (date(2026, 3, 5), date(2026, 3, 6), date(2026, 3, 6)),
    (date(2026, 3, 5), None, date(2026, 3, 9)),
])  # fmt: skip
def test_when_the_practice_calls_at_the_latest(handed_in_on: date, visit_on: date | None, expected: date) -> None:
    assert call_by(handed_in_on, visit_on=visit_on) == expected


def test_the_promise_does_not_move_on_with_the_days(phone: Client, at_now: time_machine.Traveller) -> None:
    answer_all(phone)
    phone.post(DONE)
    at_now.move_to(NOW + timedelta(minutes=110))
    assert "by Thu 5 Mar 2026" in phone.get(THANKS).content.decode()
