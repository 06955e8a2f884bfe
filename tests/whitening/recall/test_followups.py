"""Follow-ups: one list by what must happen now. What each section holds, counted truly and read a page at a time."""

import re
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.messages.models import DueMessage, State
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.recall import afterwards, crowd
from tests.whitening.recall.afterwards import later
from tests.whitening.recall.crowd import Some
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.chairside.models import Session
from whitening.recall.actions import tick
from whitening.recall.models import Attempt, AttemptResult, FollowUp, FollowUpKind, FollowUpState, SavedView
from whitening.recall.worklist import SHOWN, Section, Wanted, parts

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
DAY_FOUR = datetime(2026, 3, 7, 10, 0, tzinfo=UTC)
OPEN_ROWS, SECONDS = 50_000, 1.0
RESULT = re.compile(r'name="result" value="(\w+)"')


@pytest.fixture
def session(cast: Cast) -> Session:
    return afterwards.a_closed_session(cast)


def counted(cast: Cast, at: datetime, **wanted: object) -> dict[str, int]:
    found = parts(user=cast.desk, wanted=Wanted(**wanted), now=at)  # type: ignore[arg-type]
    return {part.section.value: part.count for part in found if part.count}


def page(client: Client, query: str = "") -> str:
    return client.get(reverse("followups") + query).content.decode()


def log(client: Client, follow_up: FollowUp, result: AttemptResult, **more: str) -> str:
    version = FollowUp.objects.get(pk=follow_up.pk).version
    data = {"result": result.value, "seen_version": str(version), **more}
    return client.post(reverse("followup_call", args=[follow_up.pk]), data, follow=True).content.decode()


def row_of(words: str, address: str) -> str:
    return next(row for row in words.split("<li data-row>") if f'"{address}"' in row)


def check(session: Session) -> FollowUp:
    return afterwards.follow_up(session, FollowUpKind.TWO_DAY)


def test_it_moves_through_the_sections_as_its_day_comes(cast: Cast, session: Session) -> None:
    found = []
    for at in (NOW, later(days=2, hours=-1), later(days=2, hours=2), DAY_FOUR - timedelta(hours=1), DAY_FOUR):
        tick(now=at)
        found.append(counted(cast, at, kind="two_day"))
    assert found == [{"coming": 1}, {"today": 1}, {"asked": 1}, {"today": 1}, {"calls": 1}]


def test_a_line_says_what_was_asked_when_and_by_which_way(cast: Cast, session: Session) -> None:
    tick(now=later(days=2, hours=2))
    sent = DueMessage.objects.filter(kind="two_day_check")
    sent.update(state=State.HANDED_OVER, channel="email", handed_over_at=later(days=2, hours=1))
    words = " ".join(page(sign_in(cast.assistant), "?kind=two_day").split())
    assert "asked by e-mail, <time" in words
    assert "Thu 5 Mar 2026, 10:00</time>" in words
    assert reverse("type_reply", args=[session.pk]) in words


def test_a_review_that_is_booked_says_so(cast: Cast, session: Session, clock: time_machine.Traveller) -> None:
    tick(now=later(days=30))
    clock.move_to(later(days=30))
    client = sign_in(cast.desk)
    find = reverse("case_time", args=[session.case_id, "review"])
    assert find in page(client)
    booking = course.visit_of(cast, session.case, starts_at=later(days=33))
    CaseVisit.objects.filter(booking=booking).update(purpose=VisitPurpose.REVIEW, session_number=None)
    booked = page(client)
    assert "booked:" in booked
    assert find not in booked
    assert reverse("booking", args=[booking.pk]) in booked


class TestCalling:
    @pytest.mark.parametrize(
        ("result", "words"),
        [
            (AttemptResult.NO_ANSWER, "Sat 7 Mar 2026, 13:00"),
            (AttemptResult.LEFT_MESSAGE, "Sun 8 Mar 2026, 16:00"),
        ],
    )
    def test_in_vain_it_comes_back_at_another_time(
        self, cast: Cast, session: Session, clock: time_machine.Traveller, result: AttemptResult, words: str
    ) -> None:
        tick(now=DAY_FOUR)
        clock.move_to(DAY_FOUR)
        said = log(sign_in(cast.assistant), check(session), result, words="rang twice")
        assert f"It comes back here {words}." in said
        assert "“rang twice”" in said
        assert "calls" not in counted(cast, DAY_FOUR)

    def test_when_they_are_closed_it_waits_for_the_opening(
        self, cast: Cast, session: Session, clock: time_machine.Traveller
    ) -> None:
        afterwards.opening_hours(cast)
        tick(now=DAY_FOUR)
        clock.move_to(DAY_FOUR)
        log(sign_in(cast.assistant), check(session), AttemptResult.NO_ANSWER)
        assert check(session).next_at == datetime(2026, 3, 9, 8, 30, tzinfo=UTC)

    def test_a_wrong_number_is_marked_and_another_asked_for(self, cast: Cast, session: Session) -> None:
        tick(now=DAY_FOUR)
        with time_machine.travel(DAY_FOUR, tick=False):
            client = sign_in(cast.assistant)
            said = log(client, check(session), AttemptResult.WRONG_NUMBER)
            assert "Ask for another one" in said
            assert f'href="tel:{cast.patient.phone.as_e164}"' not in said
            assert reverse("patient_change", args=[cast.patient.pk]) in said
            assert counted(cast, DAY_FOUR)["calls"] == 1
            assert Patient.objects.get(pk=cast.patient.pk).phone_wrong_at == DAY_FOUR
            client.post(reverse("patient_number", args=[cast.patient.pk]))
        assert Patient.objects.get(pk=cast.patient.pk).phone_wrong_at is None
        verbs = TrailEntry.objects.filter(verb__startswith="patients.number").order_by("pk")
        assert list(verbs.values_list("verb", flat=True)) == ["patients.number_wrong", "patients.number_right"]

    def test_where_it_can_be_asked_in_another_way_it_is(self, cast: Cast, session: Session) -> None:
        """It went out as a text, so nobody had written to the e-mail address yet."""
        tick(now=DAY_FOUR)
        sent = DueMessage.objects.filter(kind="two_day_check")
        sent.update(state=State.HANDED_OVER, channel="text", handed_over_at=later(days=2))
        with time_machine.travel(DAY_FOUR, tick=False):
            said = log(sign_in(cast.assistant), check(session), AttemptResult.WRONG_NUMBER)
        assert "We ask in writing meanwhile." in said
        assert check(session).next_at == DAY_FOUR + timedelta(days=1)
        assert sent.get(step=1).due_at == DAY_FOUR

    def test_the_desk_calls_and_asks_about_nothing_clinical(self, cast: Cast, session: Session) -> None:
        tick(now=later(days=36))
        review = afterwards.follow_up(session, FollowUpKind.REVIEW)
        with time_machine.travel(later(days=36), tick=False):
            desk = sign_in(cast.desk)
            Attempt.objects.create(
                followup=check(session), result="no_answer", words="gums sore", tried_at=NOW, tried_by=cast.assistant
            )
            words = page(desk)
            assert reverse("followup_call", args=[review.pk]) in words
            # What was said about somebody's health is not for the desk, nor that they were asked.
            assert "gums sore" not in words
            offered = row_of(words, reverse("followup_call", args=[check(session).pk]))
            assert RESULT.findall(offered) == ["left_message", "no_answer", "wrong_number", "wants_visit"]
            assert "an assistant or a clinician asks how they are" in offered
            assert reverse("followup_owner", args=[check(session).pk]) in offered
            assert "reached" in RESULT.findall(row_of(words, reverse("followup_call", args=[review.pk])))
            typed = {"result": "reached", "seen_version": check(session).version}
            with nothing_written():
                refused = desk.post(reverse("followup_call", args=[check(session).pk]), typed)
            assert refused.status_code == 403
            assert "The call is noted." in log(desk, review, AttemptResult.NO_ANSWER)

    def test_a_call_of_the_desk_in_vain_comes_back(
        self, cast: Cast, session: Session, clock: time_machine.Traveller
    ) -> None:
        tick(now=DAY_FOUR)
        clock.move_to(DAY_FOUR)
        said = log(sign_in(cast.desk), check(session), AttemptResult.LEFT_MESSAGE)
        assert "It comes back here Sun 8 Mar 2026, 16:00." in said
        assert Attempt.objects.get().tried_by == cast.desk

    def test_a_visit_that_the_desk_finds_leaves_the_question_open(self, cast: Cast, session: Session) -> None:
        """Nobody has asked how they are: the call waits for whoever may, and is no try in vain."""
        tick(now=DAY_FOUR)
        for hours in (0, 1, 24):
            with time_machine.travel(DAY_FOUR + timedelta(hours=hours), tick=False):
                posted = {"result": "wants_visit", "seen_version": check(session).version}
                answer = sign_in(cast.desk).post(reverse("followup_call", args=[check(session).pk]), posted)
                assert answer.headers["Location"] == reverse("case_time", args=[session.case_id, "problem"])
                assert check(session).state == FollowUpState.CALL
                assert counted(cast, DAY_FOUR + timedelta(hours=hours))["calls"] == 1
        assert "wants a visit" in page(sign_in(cast.assistant))


class TestFinding:
    def test_by_word_kind_owner_and_place(self, cast: Cast, session: Session) -> None:
        afterwards.an_astray_message(cast)
        afterwards.an_escalation(cast)
        at = later(hours=1)
        assert counted(cast, at) == {"answers": 1, "astray": 1, "coming": 2}
        assert counted(cast, at, text="nwosu") == counted(cast, at)
        assert counted(cast, at, text="nobody of that name") == {}
        assert counted(cast, at, kind="review") == {"coming": 1}
        assert counted(cast, at, kind="message") == {"astray": 1}
        assert counted(cast, at, kind="answer") == {"answers": 1}
        assert counted(cast, at, owner="me") == {}
        assert counted(cast, at, owner=str(cast.clinician.pk)) == {"answers": 1, "coming": 2}
        FollowUp.objects.filter(kind=FollowUpKind.REVIEW).update(owner=None)
        assert counted(cast, at, owner="nobody") == {"astray": 1, "coming": 1}
        assert counted(cast, at, section="astray") == {"astray": 1}

    @pytest.mark.parametrize("query", ["?kind=x&owner=-1&section=y&page=0", "?page=99999999999", "?q=%00", "?owner=²"])
    def test_what_makes_no_sense_asks_for_everything(self, cast: Cast, session: Session, query: str) -> None:
        answer = sign_in(cast.desk).get(reverse("followups") + query)
        assert (answer.status_code, answer.context["is_everything"]) == (200, True)

    def test_a_view_is_kept_shown_and_deleted_by_its_owner_alone(self, cast: Cast, session: Session) -> None:
        client = sign_in(cast.desk)
        data = {"name": " Reviews ", "kind": "review", "q": "nwosu", "owner": "", "section": "coming"}
        kept = client.post(reverse("view_keep"), data, follow=True)
        assert kept.redirect_chain[0][0] == reverse("followups") + "?kind=review&section=coming"
        assert 'href="?kind=review&amp;section=coming">Reviews</a>' in kept.content.decode()
        assert "Reviews" not in page(sign_in(cast.assistant)).split("<main")[1]
        sign_in(cast.assistant).post(reverse("view_delete"), {"name": "Reviews"})
        assert SavedView.objects.get().user == cast.desk
        client.post(reverse("view_delete"), {"name": "Reviews"})
        assert not SavedView.objects.exists()

    def test_the_name_of_a_view_loses_what_no_keyboard_types(self, cast: Cast) -> None:
        client = sign_in(cast.desk)
        client.post(reverse("view_keep"), {"name": "Re\x00views\x1b", "owner": "me"})
        assert SavedView.objects.get().name == "Reviews"
        with nothing_written():
            assert client.post(reverse("view_keep"), {"name": "\x00", "owner": "me"}).status_code == 302
        client.post(reverse("view_delete"), {"name": "Reviews\x00"})
        assert not SavedView.objects.exists()

    def test_a_view_without_a_name_or_one_too_many_is_refused(self, cast: Cast) -> None:
        client = sign_in(cast.desk)
        for number in range(12):
            client.post(reverse("view_keep"), {"name": f"{number}", "owner": "me"})
        with nothing_written():
            full = client.post(reverse("view_keep"), {"name": "12", "owner": "me"}, follow=True)
            blank = client.post(reverse("view_keep"), {"name": " ", "owner": "me"}, follow=True)
        assert "You keep twelve views already." in full.content.decode()
        assert "Give the view a name" in blank.content.decode()


class TestMany:
    def test_counts_are_true_and_every_page_is_reached(self, cast: Cast, session: Session) -> None:
        crowd.many(session, Some(number=2 * SHOWN + 3, state=FollowUpState.CALL, next_at=later(days=-3)))
        client = sign_in(cast.assistant)
        words = page(client)
        assert f"{2 * SHOWN + 3} calls to make" in words
        assert 'href="?section=calls"' in words
        seen = []
        for number in (1, 2, 3, 4):
            shown = client.get(reverse("followups"), {"section": "calls", "page": number}).context["parts"]
            seen.append([line.followup.pk for _part, rows, _all in shown for line in rows])
        assert [len(each) for each in seen] == [SHOWN, SHOWN, 3, 3]
        assert len({pk for each in seen for pk in each}) == 2 * SHOWN + 3
        assert "page 2 of 3" in page(client, "?section=calls&page=2")

    def test_after_a_call_the_same_page_comes_again(self, cast: Cast, session: Session) -> None:
        tick(now=DAY_FOUR)
        with time_machine.travel(DAY_FOUR, tick=False):
            where, seen = reverse("followup_call", args=[check(session).pk]), check(session).version
            data = {"result": "no_answer", "seen_version": seen}
            answer = sign_in(cast.assistant).post(where, {**data, "back": "kind=two_day&x=//elsewhere.example"})
        assert answer.headers["Location"] == reverse("followups") + "?kind=two_day"

    def test_the_number_of_queries_does_not_grow(self, cast: Cast, session: Session) -> None:
        client, asked = sign_in(cast.assistant), []
        for number in (2, SHOWN):
            for state in (FollowUpState.CALL, FollowUpState.ASKED, FollowUpState.WAITING):
                crowd.many(session, Some(number=number, state=state, next_at=later(minutes=-number)))
            with CaptureQueriesContext(connection) as queries:
                assert client.get(reverse("followups")).status_code == 200
            asked.append(len(queries))
        assert asked[0] == asked[1] < 50

    @pytest.mark.soak
    def test_fifty_thousand_open_ones_stay_fast(
        self, cast: Cast, session: Session, size: Callable[[int], int], note: Callable[..., None]
    ) -> None:
        """As many are closed. No section reads the table through, on whichever page."""
        rows = size(OPEN_ROWS)
        crowd.many(
            session,
            Some(number=rows // 10, state=FollowUpState.CALL, next_at=NOW - timedelta(days=60)),
            Some(number=rows * 3 // 10, state=FollowUpState.ASKED, next_at=NOW + timedelta(days=2)),
            Some(number=rows * 6 // 10, state=FollowUpState.WAITING, next_at=NOW - timedelta(minutes=100)),
            Some(number=rows, state=FollowUpState.DONE, next_at=NOW - timedelta(days=200)),
        )
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
            if connection.vendor == "postgresql" and rows < OPEN_ROWS:
                # A small table is read through because that is quicker; here only what an index cannot do shows.
                cursor.execute("SET LOCAL enable_seqscan = off")
        slowest, statements = _slowest(cast, pages=rows // 10 // SHOWN)
        note(rows=rows, slowest_ms=round(slowest * 1000), seconds_allowed=SECONDS)
        assert slowest < SECONDS
        assert [sql for sql in statements if _reads_through(sql)] == []


def _slowest(cast: Cast, *, pages: int) -> tuple[float, list[str]]:
    """In seconds, of the whole list and of first, middle and last pages; and every statement about follow-ups."""
    looks = [Wanted(), Wanted(owner="me"), Wanted(kind="two_day"), Wanted(kind="review")]
    looks += [Wanted(section=one.value, page=page) for one in Section for page in (1, pages // 2, pages)]
    took, statements = [], []
    for wanted in looks:
        with CaptureQueriesContext(connection) as queries:
            began = time.perf_counter()
            parts(user=cast.desk, wanted=wanted, now=NOW)
            took.append(time.perf_counter() - began)
        statements += [each["sql"] for each in queries if "whitening_recall_followup" in each["sql"]]
    return max(took), statements


def _reads_through(sql: str) -> bool:
    explain = "EXPLAIN " if connection.vendor == "postgresql" else "EXPLAIN QUERY PLAN "
    with connection.cursor() as cursor:
        cursor.execute(explain + sql)
        plan = "\n".join(str(row[-1]) for row in cursor.fetchall())
    if connection.vendor == "postgresql":
        return "Seq Scan on whitening_recall_followup" in plan
    return any(line.startswith("SCAN whitening_recall_followup") and "INDEX" not in line for line in plan.splitlines())
