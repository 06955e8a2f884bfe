"""The day's list gone through on the case's page while a session runs: its log holds it, and the way leads back."""

from collections.abc import Iterator

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.models import Case
from whitening.chairside import log
from whitening.chairside.actions import StaysAsItIs
from whitening.chairside.models import Session, SessionEvent
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.kinds import Step
from whitening.screening.actions import ask_again
from whitening.screening.actions.reasking import NotAllAnswered
from whitening.screening.models import AnswerSet, Reask
from whitening.screening.reading import answers_of
from whitening.screening.reask import reask_items

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _at_the_time() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def session(cast: Cast) -> Session:
    """Its people are named; the list is what comes next."""
    course.answered(cast, chairs.a_case(cast))
    session = chairs.a_session(cast)
    people = (made.Person(id=user.pk, name=user.name) for user in (cast.clinician, cast.assistant))
    chairs.tapped(cast, session, made.People(clinician=next(people), assistant=next(people)))
    return session


def usual(case: Case) -> dict[str, str]:
    answers = answers_of(case)
    assert answers is not None
    return {item.id: item.usual for item in reask_items(answers)}


def ask(cast: Cast, case: Case, **changed: str) -> Reask:
    replies = usual(case) | changed
    nurse = cast.assistant
    return ask_again(
        case=case, shown=list(replies), replies=replies, user=nurse, actor=actor_of(nurse), now=chairs.minutes(3)
    )[0]


def post(client: Client, session: Session, **changed: str) -> Answer:
    replies = usual(session.case) | changed
    return client.post(reverse("reask", args=[session.case_id]), {"shown": list(replies), **replies})


@pytest.mark.parametrize("changed", [{}, {"new_medicine": "yes"}, {"illness": "yes"}])
def test_the_log_holds_that_it_was_asked_and_by_whom(cast: Cast, session: Session, changed: dict[str, str]) -> None:
    assert chairs.state_at(session).step is Step.REASK
    row = ask(cast, session.case, **changed)
    event = log.read(session)[-1]
    asker = made.Person(id=cast.assistant.pk, name=cast.assistant.name)
    assert event.payload == made.Reask(asked_by=asker, shown=".".join(row.shown))
    assert (event.happened_at, event.actor_name) == (chairs.minutes(3), cast.assistant.name)
    assert chairs.state_at(session, 3).step is Step.STOP_SIGNAL
    assert TrailEntry.objects.filter(verb="chairside.recorded", subject_id=str(session.pk)).count() == 2


def test_the_chair_does_not_take_it_back(cast: Cast, session: Session) -> None:
    ask(cast, session.case)
    undo = chairs.state_at(session, 3).undo
    assert undo is not None
    # Undo goes on to what was tapped before it.
    assert undo.payloads == (made.Undo(seq=1),)
    with nothing_written(), pytest.raises(StaysAsItIs):
        chairs.tapped(cast, session, made.Undo(seq=2), after=4)


def test_a_list_that_is_refused_leaves_the_log_alone(cast: Cast, session: Session) -> None:
    case, nurse = session.case, cast.assistant
    with nothing_written(), pytest.raises(NotAllAnswered):
        ask_again(case=case, shown=[], replies={}, user=nurse, actor=actor_of(nurse), now=NOW)


def test_a_log_that_fails_leaves_no_list(cast: Cast, session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_rows: object, **_more: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("whitening.chairside.actions.asked.write", fail)
    with nothing_written(), pytest.raises(RuntimeError):
        ask(cast, session.case)


def test_a_closed_session_hears_nothing_more(cast: Cast, session: Session) -> None:
    Session.objects.update(closed_at=NOW, closed_by=cast.clinician)
    ask(cast, session.case)
    assert SessionEvent.objects.filter(session=session, kind="reask").count() == 0


def test_the_session_is_locked_before_its_case(cast: Cast, session: Session) -> None:
    """As a closing locks them: it holds the session and writes shades that point at the case."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite locks the whole file")
    with CaptureQueriesContext(connection) as asked:
        ask(cast, session.case)
    locks = [query["sql"].split(" FROM ")[1].split()[0] for query in asked if "FOR UPDATE" in query["sql"]]
    assert locks[:2] == ['"whitening_chairside_session"', '"whitening_cases_case"']


def test_the_way_leads_back_to_the_chair(cast: Cast, session: Session) -> None:
    nurse, chair = sign_in(cast.assistant), reverse("chairside", args=[session.pk])
    page = nurse.get(reverse("reask", args=[session.case_id])).content.decode()
    assert f'href="{chair}">Back to the chair' in page
    answer = post(nurse, session)
    assert (answer.status_code, answer["Location"]) == (302, chair)
    assert "All as before, asked by" in nurse.get(chair).content.decode()


def test_news_that_opens_a_question_asks_it_before_the_way_back(cast: Cast, session: Session) -> None:
    nurse, chair = sign_in(cast.assistant), reverse("chairside", args=[session.pk])
    asking = reverse("ask", args=[session.case_id])
    assert post(nurse, session, new_medicine="yes")["Location"] == asking
    assert f'href="{chair}">Back to the chair' in nurse.get(asking).content.decode()
    answer = nurse.post(asking, {"source": "chair", "medicines": "ibuprofen", "light_medicines": ["none"]})
    assert (answer.status_code, answer["Location"]) == (302, chair)
    newest = AnswerSet.objects.order_by("-pk")[0]
    assert course.given(newest)["medicines"] == ("ibuprofen",)


def test_without_a_session_the_way_leads_to_the_case(cast: Cast, session: Session) -> None:
    Session.objects.update(closed_at=NOW, closed_by=cast.clinician)
    assert post(sign_in(cast.assistant), session)["Location"] == reverse("case", args=[session.case_id])


def test_news_is_told_from_any_step_but_not_while_gel_is_on(cast: Cast, session: Session) -> None:
    """Nobody leaves the screen of a running clock for another page."""
    nurse, chair = sign_in(cast.assistant), reverse("chairside", args=[session.pk])
    link = f'href="{reverse("reask", args=[session.case_id])}"'
    assert nurse.get(chair).content.decode().count(link) == 1
    ask(cast, session.case)
    assert nurse.get(chair).content.decode().count(link) == 1
    chairs.tapped(cast, session, made.GelOn(cycle=1, mix=None))
    assert link not in nurse.get(chair).content.decode()


def test_what_was_new_is_decided_from_the_case_while_the_session_runs(cast: Cast, session: Session) -> None:
    """The chair says that a clinician decides and leads to the case: there the way goes on."""
    clinician = sign_in(cast.clinician)
    where, decided_at = (reverse(name, args=[session.case_id]) for name in ("case", "assessment"))
    assert "Asked again today" not in clinician.get(where).content.decode()
    ask(cast, session.case, illness="yes")
    words = clinician.get(where).content.decode()
    assert "Dentist to decide" in words
    assert f'href="{decided_at}">Asked again today' in words
    assert f'href="{decided_at}">Decide what is new today' in words
    # Whoever asked sees that it waits; deciding is not offered, and asking once more neither.
    theirs = sign_in(cast.assistant).get(where).content.decode()
    assert "Dentist to decide" in theirs
    assert "Decide what is new today" not in theirs
    assert "Ask again today" not in theirs
