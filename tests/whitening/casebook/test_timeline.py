"""One timeline of the case: what the trail says, and for those at the chair what the log of the session says."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import User
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.whitening.casebook import lived
from tests.whitening.chairside import chairs
from whitening.casebook.page import CasePage, case_page
from whitening.casebook.timeline import Day, Entry, newest
from whitening.cases.models import Case
from whitening.chairside.actions import close_session
from whitening.chairside.models import Session
from whitening.chairside.protocol.choices import Arches, FirstAid, Place, TakeOffReason
from whitening.chairside.protocol.payloads import (
    Contact,
    ContactSettled,
    GelOff,
    GelOn,
    Payload,
    Sensitivity,
    StartShade,
    StopSignal,
    TakeOffNow,
    TakeOffReasonGiven,
    Undo,
)
from whitening.recall.actions import plan_after_session

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def session(cast: Cast) -> Session:
    case = lived.agreed(cast)
    lived.here(case)
    return lived.started(case)


def read(session: Session, user: User) -> CasePage:
    case = Case.objects.select_related("site", "patient").get(pk=session.case_id)
    return case_page(case, user=user, now=NOW)


def entries(session: Session, user: User) -> list[Entry]:
    return [entry for day in read(session, user).timeline for entry in day.entries]


def sentences(session: Session, user: User) -> list[str]:
    return [str(entry.sentence) for entry in entries(session, user)]


def tap(cast: Cast, session: Session, minute: float, *payloads: Payload) -> int:
    return chairs.tapped(cast, session, *payloads, after=minute)[0].seq


def lips_touched(cast: Cast, session: Session) -> None:
    tap(cast, session, 1, StartShade(tab="A3"))
    tap(cast, session, 2, GelOn(cycle=1, mix=None, arches=Arches.UPPER))
    contact = tap(cast, session, 3, Contact(place=Place.LIP))
    tap(cast, session, 4, TakeOffNow())
    tap(cast, session, 5, GelOff())
    tap(cast, session, 6, TakeOffReasonGiven(reason=TakeOffReason.CONTACT))
    tap(cast, session, 7, ContactSettled(contact=contact, action=FirstAid.FLUSHED))


THERE = [
    "Contact settled: flushed, looks normal",
    "Why the gel was taken off: gel on gum, lip, skin or in an eye",
    "Gel off by suction",
    "Take the gel off now",
    "Lip touched",
    "Gel on: upper arch, cycle 1",
    "read a shade: A3, before a session",
    "opened a session",
]


class TestAtTheChair:
    def test_the_clinician_reads_what_happened(self, cast: Cast, session: Session) -> None:
        lips_touched(cast, session)
        assert sentences(session, cast.clinician)[: len(THERE)] == THERE
        entry = entries(session, cast.clinician)[4]
        assert (entry.at, entry.actor_name) == (chairs.minutes(3), cast.assistant.name)

    @pytest.mark.parametrize("reader", ["desk", "manager"])
    def test_others_read_that_something_was_recorded(self, cast: Cast, session: Session, reader: str) -> None:
        lips_touched(cast, session)
        found = sentences(session, getattr(cast, reader))
        # The ladder beside it shows everybody the shades; what was felt and done is for those at the chair.
        assert {"recorded at the chair (7 times)", "read a shade: A3, before a session", "opened a session"} <= {*found}
        assert not {*THERE[:-2]} & {*found}

    def test_what_was_taken_back_is_gone_but_for_a_contact(self, cast: Cast, session: Session) -> None:
        shade = tap(cast, session, 1, StartShade(tab="A3"))
        tap(cast, session, 2, Undo(seq=shade))
        contact = tap(cast, session, 3, Contact(place=Place.GUM))
        tap(cast, session, 4, Undo(seq=contact))
        assert sentences(session, cast.assistant)[:2] == ["Gum touched", "opened a session"]

    def test_small_steps_stay_in_the_log(self, cast: Cast, session: Session) -> None:
        tap(cast, session, 1, StopSignal())
        tap(cast, session, 2, Sensitivity(score=3))
        assert sentences(session, cast.assistant)[:2] == ["Sensitivity: 3", "opened a session"]

    def test_it_costs_no_query_more(self, cast: Cast, session: Session) -> None:
        counts = []
        for minute in (1, 10):
            tap(cast, session, minute, StartShade(tab="A3"), StopSignal())
            with CaptureQueriesContext(connection) as asked:
                read(session, cast.clinician)
            counts.append(len(asked))
        assert counts[0] == counts[1]


class TestTheLadder:
    def test_it_shows_the_shade_of_a_session_that_runs(self, cast: Cast, session: Session) -> None:
        assert read(session, cast.clinician).ladder.points == ()
        wrong = tap(cast, session, 1, StartShade(tab="B4"))
        tap(cast, session, 2, Undo(seq=wrong))
        tap(cast, session, 3, StartShade(tab="A3"))
        (point,) = read(session, cast.clinician).ladder.points
        assert (point.reading.tab, point.hollow) == ("A3", False)
        page = sign_in(cast.clinician).get(reverse("case", args=[session.case_id])).content.decode()
        assert "before a session" in page

    def test_once_closed_each_reading_stands_once(self, cast: Cast, session: Session) -> None:
        minute = chairs.played(cast, session)
        before = [(point.reading.tab, point.hollow) for point in read(session, cast.clinician).ladder.points]
        close_session(
            session=session,
            client_id="a page",
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=chairs.minutes(minute),
        )
        after = [(point.reading.tab, point.hollow) for point in read(session, cast.clinician).ladder.points]
        assert after == before
        assert [hollow for _tab, hollow in after] == [False, True]


@pytest.mark.parametrize("reader", ["desk", "clinician"])
def test_it_names_each_planned_follow_up(cast: Cast, session: Session, reader: str) -> None:
    plan_after_session(session=session, needs_call=True, actor=actor_of(cast.clinician), now=NOW)
    planned = [words for words in sentences(session, getattr(cast, reader)) if words.startswith("planned a follow-up")]
    # The cast's NOW is Tuesday 3 March 2026 in London.
    assert [words.partition(": ")[2] for words in planned] == [
        "month review, invitation on Tue 24 Mar 2026, 10:00",
        "call on the next day, Wed 4 Mar 2026, 10:00",
        "two-day check, Thu 5 Mar 2026, 10:00",
    ]


class TestInDays:
    def test_each_local_day_stands_once_the_newest_first(self, cast: Cast, session: Session) -> None:
        days = [day.on for day in read(session, cast.clinician).timeline]
        assert days == sorted({*days}, reverse=True)
        assert days[0] == NOW.date()

    @pytest.mark.parametrize(
        ("lines", "open_days"),
        [([], 0), ([3], 1), ([40], 1), ([40, 1], 1), ([5, 5, 4], 3), ([5, 5, 5], 2), ([14, 1], 1)],
    )
    def test_a_long_last_day_still_stands_open(self, lines: list[int], open_days: int) -> None:
        line = Entry(NOW, "Ada", "did something")
        assert newest([Day(NOW.date(), [line] * count) for count in lines]) == open_days


def test_it_names_visits_papers_and_messages(cast: Cast, session: Session) -> None:
    found = sentences(session, cast.desk)
    assert {"confirmed a pencilled visit: whitening session 1", "booked a visit: consultation"} <= {*found}
    assert not [words for words in found if "private link" in words or "planned a message" in words]
