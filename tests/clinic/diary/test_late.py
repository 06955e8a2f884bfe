"""The late key: what fits is said in words, and each of its three ways is one press."""

from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise
from typing import Any

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.late import what_fits
from clinic.diary.late_words import late_sentence
from clinic.diary.models import Booking, LateQuestion, Resource, ResourceKind, Status, VisitCode
from clinic.diary.reading import read_day
from clinic.messages.models import DueMessage
from tests.answer import Answer
from tests.cast import Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, elsewhere_booking
from tests.support import nothing_written

LATE = at(10, 20)


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(LATE, tick=False) as traveller:
        yield traveller


@pytest.fixture
def session(diary: Cast) -> Booking:
    """Four cycles from ten: set-up until 10:10, seated until 12:10, the room until 12:20, taken again at 12:30."""
    booked = book(diary, at(10), code=VisitCode.TREATMENT, cycles=4, tell=False)
    held = dict(booked.claims.values_list("need", "resource_id"))
    following = book(diary, at(12, 30), code=VisitCode.TREATMENT, cycles=1, patient=another_patient(diary), tell=False)
    # Both have the same room and people, whoever the engine would have picked.
    assert held == dict(following.claims.values_list("need", "resource_id"))
    return booked


def address(booking: Booking) -> str:
    return reverse("booking_late", args=[booking.pk])


def press(client: Client, booking: Booking, do: str, **more: Any) -> Answer:
    booking.refresh_from_db()
    given = {"here": "10:20", "version": booking.version, "do": do} | more
    return client.post(address(booking), given)


@pytest.mark.parametrize("hour", [(10, 30), (11, 0)])
def test_in_time_after_all_they_are_noted_as_here_there(diary: Cast, hour: tuple[int, int]) -> None:
    booked = book(diary, at(*hour), tell=False)
    desk, path = sign_in(diary.desk), reverse("booking_act", args=[booked.pk, "arrive"])
    page = desk.get(address(booked)).content.decode()
    assert f'action="{path}"' in page
    assert desk.post(path, {"back": "start"}).status_code == 302
    booked.refresh_from_db()
    assert booked.status == Status.ARRIVED
    # Whoever is here already is not noted again.
    assert f'action="{path}"' not in desk.get(address(booked)).content.decode()


def test_it_works(diary: Cast, session: Booking) -> None:
    desk = sign_in(diary.desk)
    page = desk.get(address(session)).content.decode()
    assert "Here at 10:20: all four cycles fit." in page
    page = desk.get(address(session), {"here": "10:30"}).content.decode()
    assert "Here at 10:30: three cycles fit before 12:30, four do not." in page
    assert "Willow is free for this visit until 12:30." in page
    before = DueMessage.objects.count()
    answer = press(desk, session, "begin", here="10:30", cycles=3)
    assert answer.headers["Location"] == reverse("today")
    session.refresh_from_db()
    assert (session.cycles, session.cycles_before, session.late_minutes) == (3, 4, 20)
    # The agreed time stays; the room is kept from then on, and is free ten minutes before the next one.
    assert (session.starts_at, session.ends_at, session.wall_time) == (at(10), at(12, 20), at(10).time())
    room = session.claims.filter(need="room", active=True).order_by("start_at")
    spans = [(one.start_at, one.end_at) for one in room]
    assert (spans[0], spans[-1][1]) == ((at(10), at(10, 30)), at(12, 20))
    assert all(before[1] == after[0] for before, after in pairwise(spans))
    assert session.claims.filter(need="clinician", active=True).earliest("start_at").start_at == at(10, 30)
    assert DueMessage.objects.count() == before
    history = desk.get(reverse("booking", args=[session.pk])).content.decode()
    assert "fitted a visit to a patient who is late: here at 10:30, 3 of 4 cycles" in history
    # Later still: from what was agreed, not from what was left of it.
    assert what_fits(session, here_at=at(10, 20), now=LATE).cycles[0] == 4
    with nothing_written():
        assert press(desk, session, "begin", here="10:30", cycles=4).status_code == 409
        assert press(desk, session, "begin", here="10:30", cycles=5).status_code == 409


@pytest.mark.parametrize(
    ("here", "words"),
    [
        ((10, 5), "Here at 10:20: all four cycles fit."),
        ((11, 10), "Here at 11:10: one cycle fits before 12:30, two do not."),
        ((11, 25), "Here at 11:25: not even one cycle fits before 12:30."),
    ],
)
def test_in_words(session: Booking, here: tuple[int, int], words: str) -> None:
    assert late_sentence(what_fits(session, here_at=at(*here), now=LATE)) == words


def test_a_visit_without_cycles_and_one_in_time(diary: Cast, clock: time_machine.Traveller) -> None:
    plain = book(diary, at(10), tell=False)
    book(diary, at(10, 45), patient=another_patient(diary), tell=False)
    assert (
        late_sentence(what_fits(plain, here_at=LATE, now=LATE)) == "Here at 10:20: the visit does not fit before 10:45."
    )
    clock.move_to(at(9, 58))
    now = at(9, 58)
    assert late_sentence(what_fits(plain, here_at=at(10, 10), now=now)) == "Here at 10:10: the whole visit fits."
    assert "in time for the chair" in late_sentence(what_fits(plain, here_at=now, now=now))
    session = book(diary, at(13), code=VisitCode.TREATMENT, cycles=1, tell=False)
    # While the room is prepared nobody has to sit in it.
    assert what_fits(session, here_at=at(13, 10), now=now).late_minutes == 0


def test_move_and_the_patient_is_here_already(diary: Cast, session: Booking) -> None:
    desk = sign_in(diary.desk)
    there = reverse("booking_move", args=[session.pk])
    assert press(desk, session, "move").headers["Location"] == there
    actions.arrive(booking=session, actor=actor_of(diary.desk), now=LATE)
    session.refresh_from_db()
    actions.begin_late(booking=session, here_at=at(10, 30), cycles=3, actor=actor_of(diary.desk), now=LATE)
    assert press(desk, session, "move").headers["Location"] == there
    session.refresh_from_db()
    assert (session.status, session.arrived_at) == (Status.BOOKED, None)
    offered = desk.get(there).context["found"].openings.found
    assert {one.end_at - one.start_at for one in offered} == {timedelta(minutes=140)}
    moved = actions.move(booking=session, start_at=at(13, 30), actor=actor_of(diary.desk), now=LATE)
    # Another time has room for what was left out.
    assert (moved.cycles, moved.cycles_before, moved.late_minutes, moved.ends_at) == (4, None, 0, at(15, 50))


def test_ask_the_dentist(diary: Cast, session: Booking, clock: time_machine.Traveller) -> None:
    desk, dentist = sign_in(diary.desk), sign_in(diary.clinician)
    press(desk, session, "ask", here="10:30")
    question = LateQuestion.objects.get()
    assert (question.here_at, question.asked_by, question.answer) == (at(10, 30), "Dana Popescu", "")
    with nothing_written():
        assert press(desk, session, "ask").status_code == 409
        assert desk.post(reverse("booking_late_answer", args=[session.pk]), {"answer": "fit"}).status_code == 403
        dentist.post(reverse("booking_late_answer", args=[session.pk]), {"answer": "maybe"})
    for client, buttons in ((desk, False), (dentist, True)):
        page = client.get(reverse("today")).content.decode()
        assert "three cycles fit before 12:30, four do not." in page
        assert (reverse("booking_late_answer", args=[session.pk]) in page) == buttons
    # By the time of the answer less may fit.
    clock.move_to(at(10, 50))
    desk, dentist = sign_in(diary.desk), sign_in(diary.clinician)
    dentist.post(reverse("booking_late_answer", args=[session.pk]), {"answer": "fit"})
    session.refresh_from_db()
    assert (session.cycles, session.late_minutes) == (2, 40)
    assert LateQuestion.objects.get().answered_by == "Cleo Haddad"
    assert "Late: what shall be done?" not in desk.get(reverse("today")).content.decode()
    with nothing_written():
        dentist.post(reverse("booking_late_answer", args=[session.pk]), {"answer": "fit"})


def test_the_dentist_wants_another_time(diary: Cast, session: Booking) -> None:
    desk, dentist = sign_in(diary.desk), sign_in(diary.clinician)
    press(desk, session, "ask")
    dentist.post(reverse("booking_late_answer", args=[session.pk]), {"answer": "move"})
    page = desk.get(reverse("today")).content.decode()
    assert "Cleo Haddad says: find another time." in page
    session.refresh_from_db()
    actions.move(booking=session, start_at=at(14, 30), actor=actor_of(diary.desk), now=LATE)
    assert "says: find another time" not in desk.get(reverse("today")).content.decode()


def test_a_question_whose_time_runs_out_is_refused(
    diary: Cast, session: Booking, clock: time_machine.Traveller
) -> None:
    press(sign_in(diary.desk), session, "ask")
    clock.move_to(at(11, 25))
    dentist = sign_in(diary.clinician)
    with nothing_written():
        dentist.post(reverse("booking_late_answer", args=[session.pk]), {"answer": "fit"})
    assert "By now nothing of this visit fits any more." in dentist.get(reverse("today")).content.decode()
    page = dentist.get(reverse("today")).content.decode()
    assert "Another time" in page
    assert "Begin with what fits" not in page


def test_another_desk_was_faster(diary: Cast, session: Booking) -> None:
    desk = sign_in(diary.desk)
    with nothing_written():
        refused = press(desk, session, "begin", cycles=3, version=session.version - 1)
    assert (refused.status_code, "Somebody else changed this visit" in refused.content.decode()) == (409, True)
    actions.check_in(booking=session, actor=actor_of(diary.desk), now=LATE)
    with nothing_written():
        assert press(desk, session, "begin", cycles=3).status_code == 409
        assert press(desk, session, "ask").status_code == 409
    assert "Only a visit of today that has not begun" in desk.get(address(session)).content.decode()


def test_wrong_role_other_site_and_bad_input(diary: Cast, session: Booking) -> None:
    elsewhere = elsewhere_booking(diary)
    desk, manager = sign_in(diary.desk), sign_in(diary.manager)
    with nothing_written():
        assert manager.get(address(session)).status_code == 403
        assert press(desk, elsewhere, "ask").status_code == 404
        assert press(desk, session, "ask", here="soon").status_code == 422
        assert press(desk, session, "dance").status_code == 422
        assert desk.get(address(session), {"here": "99"}).status_code == 422


def test_somebody_who_left_keeps_the_visit_from_nothing(diary: Cast, session: Booking) -> None:
    """Whoever cannot be booked any more leaves nothing that fits; the page still answers."""
    Resource.objects.filter(name="Willow").update(active=False)
    assert what_fits(session, here_at=LATE, now=LATE).cycles == ()
    page = sign_in(diary.desk).get(address(session)).content.decode()
    assert "not even one cycle fits any more." in page


def test_the_diary_shows_where_it_is_now(diary: Cast, session: Booking) -> None:
    actions.begin_late(booking=session, here_at=at(10, 30), cycles=3, actor=actor_of(diary.desk), now=LATE)
    columns = read_day(diary.fernbrook, session.wall_on, kind=ResourceKind.ROOM, chosen=None, now=LATE).columns
    placed = next(one for column in columns for one in column.placed if one.booking.pk == session.pk)
    assert (placed.starts_at, placed.ends_at) == (at(10), at(12, 20))


def test_the_database_keeps_one_open_question(session: Booking) -> None:
    given: dict[str, Any] = {"booking": session, "was_at": session.starts_at, "here_at": LATE, "asked_at": LATE}
    LateQuestion.objects.create(**given)
    for changed in ({}, {"answer": "perhaps", "answered_at": LATE}, {"answer": "fit"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            LateQuestion.objects.create(**given | changed)


def test_queries_do_not_grow_with_the_day(diary: Cast, session: Booking) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            what_fits(session, here_at=LATE, now=LATE)
        return len(queries)

    before = asked()
    for number in range(4):
        book(diary, at(13, 45) + timedelta(minutes=45 * number), patient=another_patient(diary, number + 5), tell=False)
    assert asked() == before <= 25


def test_a_session_without_a_cycle_and_one_of_another_day_are_not_begun(diary: Cast, session: Booking) -> None:
    desk = sign_in(diary.desk)
    tomorrow = book(diary, at(10) + timedelta(days=1), code=VisitCode.TREATMENT, cycles=2, tell=False)
    with nothing_written():
        assert press(desk, session, "begin").status_code == 422
        assert press(desk, session, "begin", cycles=0).status_code == 422
        for do in ("begin", "ask"):
            answer = press(desk, tomorrow, do, cycles=1)
            assert answer.status_code == 422
            assert "Only a visit of today that has not begun" in answer.content.decode()


def test_a_question_goes_with_the_time_that_it_was_about(
    diary: Cast, session: Booking, clock: time_machine.Traveller
) -> None:
    """Nobody answered; the desk moves the visit, and on its new day the patient is late once more."""
    desk, next_day = sign_in(diary.desk), timedelta(days=1)
    press(desk, session, "ask")
    session.refresh_from_db()
    actions.move(booking=session, start_at=at(10) + next_day, actor=actor_of(diary.desk), now=LATE)
    assert not LateQuestion.objects.standing(site=diary.fernbrook, now=LATE).exists()
    clock.move_to(LATE + next_day)
    assert press(sign_in(diary.desk), session, "ask").status_code == 302
    assert LateQuestion.objects.standing(site=diary.fernbrook, now=LATE + next_day).exists()
