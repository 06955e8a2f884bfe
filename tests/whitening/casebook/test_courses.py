"""Find the whole course: proposals, held together for the call, booked together or not at all."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine
from django.core import mail
from django.db import connection
from django.db.models import Max
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import Membership, Role
from clinic.diary import actions as diary
from clinic.diary.courses.finding import Courses
from clinic.diary.models import Booking, Closure, Resource, Status
from clinic.diary.together import TOLD
from clinic.messages import kinds
from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep
from clinic.patients.models import Channel
from tests.cast import NOW, Cast, actor_of, hire, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from whitening.casebook.actions import OutOfStep, VisitWish, book_course, confirm_all_pencilled
from whitening.casebook.courses import Missing, missing
from whitening.cases.models import Case, CaseVisit, VisitPurpose

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
CLEANING, SESSION, REVIEW = VisitPurpose.CLEANING, VisitPurpose.SESSION, VisitPurpose.REVIEW
Starts = list[datetime]


@pytest.fixture
def call(cast: Cast) -> Lived:
    return lived.called(cast, at=NOW)


def where(case: Case, name: str = "case_course") -> str:
    return reverse(name, args=[case.pk])


def found(client: Client, case: Case, query: str = "") -> Courses:
    courses: Courses = client.get(where(case) + query).context["found"]
    return courses


def starts(courses: Courses) -> list[list[str]]:
    return [[f"{step.opening.start_at:%d %b %H:%M}" for step in one.steps] for one in courses.proposals]


def visits(case: Case) -> list[tuple[str, str, str]]:
    rows = case.visits.select_related("booking").order_by("booking__starts_at")
    return [(row.purpose, row.booking.status, f"{row.booking.starts_at:%d %b %H:%M}") for row in rows]


def hold_first(client: Client, case: Case) -> list[int]:
    value = found(client, case).proposals[0].value
    assert client.post(where(case), {"hold": value}).status_code == 302
    return list(case.visits.filter(booking__status=Status.PENDING).values_list("booking", flat=True))


def test_found_held_for_the_call_and_booked_in_one_press(cast: Cast, call: Lived) -> None:
    """A cleaning today, the session a week later, the review in its window; three proposals, each a day later."""
    client, case = sign_in(cast.desk), call.case
    page = client.get(where(case))
    assert starts(page.context["found"]) == [
        ["03 Mar 09:00", "10 Mar 08:30", "07 Apr 07:30"],
        ["04 Mar 08:30", "11 Mar 08:30", "08 Apr 07:30"],
        ["05 Mar 08:30", "12 Mar 08:30", "09 Apr 07:30"],
    ]
    assert "28 days later" in page.content.decode()
    held = hold_first(client, case)
    assert visits(case) == [
        (CLEANING, "pending", "03 Mar 09:00"),
        (SESSION, "pending", "10 Mar 08:30"),
        (REVIEW, "pending", "07 Apr 07:30"),
    ]
    words = client.get(where(case)).content.decode()
    assert "Held, not booked yet" in words
    assert "Course 1" not in words
    assert "What has its time already" not in words
    # Other desks see the times as taken; they are not theirs to book.
    other = lived.called(cast, name="Bo Andersson", at=NOW).case
    theirs = sign_in(cast.assistant)
    assert starts(found(theirs, other))[0] == ["03 Mar 09:30", "10 Mar 11:00", "07 Apr 08:00"]
    with nothing_written():
        refused = theirs.post(where(case, "case_course_book"), {"held": held})
    assert refused.status_code == 409
    answer = client.post(where(case, "case_course_book"), {"held": held}, follow=True).content.decode()
    assert "1 visit is booked." in answer
    assert "2 visits are pencilled" in answer
    # Nothing is signed yet: the session is pencilled, and the review falls out with it.
    assert [status for _purpose, status, _when in visits(case)] == ["booked", "proposed", "proposed"]
    until = set(Booking.objects.filter(status=Status.PROPOSED).values_list("lapses_at", flat=True))
    assert until == {datetime(2026, 3, 9, 8, 30, tzinfo=UTC)}


def test_no_cleaning_is_put_behind_the_first_session(call: Lived) -> None:
    assert missing(call.case, now=NOW) == Missing(cleaning=True, sessions=1, review=True)
    lived.book(call, SESSION, earliest_at=NOW + timedelta(days=7))
    assert missing(call.case, now=NOW) == Missing(cleaning=False, sessions=0, review=True, sessions_before=1)


def test_after_a_session_a_cleaning_of_long_ago_is_done_anew(call: Lived) -> None:
    """The sessions that are left would have to be before the old one counts no more."""
    visit = lived.book(call, SESSION, earliest_at=NOW + timedelta(days=7))
    later = visit.booking.ends_at + timedelta(days=200)
    Booking.objects.filter(pk=visit.booking_id).update(status=Status.FULFILLED)
    assert missing(call.case, now=later) == Missing(cleaning=True, sessions=0, review=True, sessions_before=1)


def test_what_is_pencilled_lapses_as_a_whole_and_stands_on_today(
    cast: Cast, call: Lived, clock: time_machine.Traveller
) -> None:
    client, case = sign_in(cast.desk), call.case
    client.post(where(case), {"book": found(client, case).proposals[0].value})
    over = Booking.objects.aggregate(over=Max("lapses_at"))["over"]
    assert diary.lapse_due(now=over) == 2
    assert [status for _purpose, status, _when in visits(case)] == ["booked", "cancelled", "cancelled"]
    clock.move_to(over + timedelta(minutes=1))
    words = sign_in(cast.desk).get(reverse("today")).content.decode()
    assert words.count("10 Mar 2026, 08:30") + words.count("7 Apr 2026, 08:30") == 2


def test_somebody_was_quicker_with_one_of_them(cast: Cast, call: Lived) -> None:
    """The session's time is gone, so the cleaning is not booked either; what is free now stands below."""
    client = sign_in(cast.desk)
    value = found(client, call.case).proposals[0].value
    other = lived.called(cast, name="Bo Andersson", at=NOW)
    lived.book(other, SESSION, earliest_at=datetime(2026, 3, 10, tzinfo=UTC), at=NOW)
    for press in ("book", "hold"):
        with nothing_written():
            answer = client.post(where(call.case), {press: value})
        assert answer.status_code == 409
        assert "That time has just been taken." in answer.content.decode()
        assert starts(answer.context["found"])[0] == ["03 Mar 09:00", "10 Mar 11:00", "07 Apr 07:30"]


@pytest.mark.parametrize(("query", "status"), [("", 422), ("?asked=1&sessions=1&cleaning=on&review=on", 409)])
def test_the_same_course_from_a_second_page_is_told_that_it_stands(
    cast: Cast, call: Lived, query: str, status: int
) -> None:
    client, second, said = sign_in(cast.desk), where(call.case) + query, "These times are held or booked for this case"
    value = found(client, call.case).proposals[0].value
    held = hold_first(client, call.case)
    for press in ("book", "hold"):
        with nothing_written():
            answer = client.post(second, {press: value})
        assert (answer.status_code, said in answer.content.decode()) == (status, True)
    assert client.post(where(call.case, "case_course_book"), {"held": held}).status_code == 302
    with nothing_written():
        answer = client.post(second, {"book": value})
    assert (answer.status_code, said in answer.content.decode()) == (status, True)
    assert [visit.booking_id for visit in answer.context["standing"]] == held


def test_a_hold_that_ran_out_books_nothing(cast: Cast, call: Lived, clock: time_machine.Traveller) -> None:
    client = sign_in(cast.desk)
    held = hold_first(client, call.case)
    clock.shift(diary.HOLD_FOR)
    client = sign_in(cast.desk)
    with nothing_written():
        answer = client.post(where(call.case, "case_course_book"), {"held": held})
    assert answer.status_code == 409
    assert "Your hold ran out at 09:05." in answer.content.decode()
    # It is free again at once, though nobody came by to free it.
    assert starts(answer.context["found"])[0][1:] == ["10 Mar 08:30", "07 Apr 07:30"]


def test_let_all_of_it_go(cast: Cast, call: Lived) -> None:
    client = sign_in(cast.desk)
    held = hold_first(client, call.case)
    assert client.post(where(call.case, "case_course_let_go"), {"held": held}).headers["Location"] == where(call.case)
    assert {status for _purpose, status, _when in visits(call.case)} == {"cancelled"}
    page = client.get(reverse("case", args=[call.case.pk]))
    # It was nobody's visit: the case does not list it.
    assert page.context["page"].visits == []
    with nothing_written():
        assert client.post(where(call.case, "case_course_let_go"), {"held": held}).status_code == 409


def test_of_another_case_nothing_is_booked(cast: Cast, call: Lived) -> None:
    client, other = sign_in(cast.desk), lived.called(cast, name="Bo Andersson", at=NOW)
    held = hold_first(client, call.case)
    for sent in (held, [], ["tea"], [str(10**12)]):
        with nothing_written():
            assert client.post(where(other.case, "case_course_book"), {"held": sent}).status_code == 409


def test_which_visit_is_in_the_way_and_why(cast: Cast, call: Lived) -> None:
    """The dentist is away for all of the review's window, whichever day the session is."""
    dentist = Resource.objects.get(person=cast.clinician)
    away = {"site": cast.fernbrook, "resource": dentist, "kind": "leave"}
    Closure.objects.create(
        **away, starts_at=datetime(2026, 3, 14, tzinfo=UTC), ends_at=datetime(2027, 3, 31, tzinfo=UTC)
    )
    page = sign_in(cast.desk).get(where(call.case))
    assert page.context["found"].proposals == []
    obstacle = page.context["found"].obstacle
    assert (obstacle.visit.name, obstacle.first_on, obstacle.last_on) == (
        REVIEW.label,
        date(2026, 4, 7),
        date(2026, 4, 24),
    )
    words = " ".join(page.content.decode().split())
    assert "No course fits. In the way: month review." in words
    assert "no clinician who may examine and decide is free long enough" in words


def test_an_agreed_plan_of_two_sessions_is_booked_whole(cast: Cast) -> None:
    life = lived.with_answers(cast)
    lived.examined(life)
    lived.planned(life, sessions=2, least_days_between=10)
    lived.signed(life)
    lived.confirmed(life)
    client, case = sign_in(cast.desk), life.case
    # The session of today is booked and the teeth were cleaned a month ago: one session and the review are missing.
    assert starts(found(client, case))[0] == ["13 Mar 08:30", "10 Apr 07:30"]
    client.post(where(case), {"book": found(client, case).proposals[0].value})
    assert visits(case)[-2:] == [(SESSION, "booked", "13 Mar 08:30"), (REVIEW, "booked", "10 Apr 07:30")]
    assert case.visits.get(booking__starts_at=datetime(2026, 3, 13, 8, 30, tzinfo=UTC)).session_number == 2
    nothing_left = client.get(where(case)).content.decode()
    assert "Every visit of this course has its time" in nothing_left
    assert "What has its time already" in nothing_left


def test_one_press_confirms_all_sessions_and_the_review_behind_them(cast: Cast, call: Lived) -> None:
    client, case = sign_in(cast.desk), call.case
    query = "?asked=1&sessions=2&review=on"
    proposal = found(client, case, query).proposals[0]
    client.post(where(case) + query, {"book": proposal.value})
    assert [status for _purpose, status, _when in visits(case)] == ["proposed"] * 3
    with nothing_written():
        assert {
            type(refusal).__name__
            for _visit, refusal in confirm_all_pencilled(case=case, actor=actor_of(cast.desk), now=NOW)
        } == {"NotAgreedYet"}
    lived.answer(call, at=NOW)
    lived.examined(call, at=NOW)
    lived.planned(call, at=NOW, sessions=2)
    lived.signed(call, at=NOW)
    words = client.get(reverse("case", args=[case.pk])).content.decode()
    assert "Confirm the pencilled times" in words
    answer = client.post(where(case, "case_times_confirm"), follow=True).content.decode()
    assert answer.count("Confirmed: ") == 2
    assert [status for _purpose, status, _when in visits(case)] == ["booked"] * 3
    with nothing_written():
        again = client.post(where(case, "case_times_confirm"), follow=True).content.decode()
    assert "Nothing of this case is pencilled any more." in again


@pytest.mark.parametrize("value", ["", "soon", "2026-03-03T09:00:00+0000", "\0,\0,\0"])
def test_no_course_at_all(cast: Cast, call: Lived, value: str) -> None:
    client = sign_in(cast.desk)
    for press in ("book", "hold"):
        with nothing_written():
            answer = client.post(where(call.case), {press: value})
        assert answer.status_code == 422
        assert "Pick one of the courses below." in answer.content.decode()


def test_days_that_no_list_offered(cast: Cast, call: Lived) -> None:
    near = [VisitWish(CLEANING, NOW), VisitWish(SESSION, datetime(2026, 3, 5, 9, 0, tzinfo=UTC))]
    with nothing_written(), pytest.raises(OutOfStep):
        book_course(case=call.case, wishes=near, actor=actor_of(cast.desk), now=NOW)


def test_a_course_that_begins_too_soon_after_a_session_that_stands(cast: Cast, call: Lived) -> None:
    lived.book(call, SESSION, earliest_at=NOW + timedelta(days=2), at=NOW)
    with nothing_written(), pytest.raises(OutOfStep):
        book_course(
            case=call.case, wishes=[VisitWish(SESSION, NOW + timedelta(days=6))], actor=actor_of(cast.desk), now=NOW
        )


def test_six_sessions_are_read_at_once(cast: Cast, call: Lived) -> None:
    """Each kind of visit is set up once, and read by four weeks: not once for every session."""
    client, asked = sign_in(cast.desk), []
    for sessions in (1, 6):
        with CaptureQueriesContext(connection) as queries:
            assert found(client, call.case, f"?asked=1&sessions={sessions}&review=on&cleaning=on").proposals
        asked.append(len(queries))
    # A block of sessions more (2 queries), and one where the review's window lies further on.
    assert asked[1] - asked[0] <= 4


def test_a_hold_from_the_cases_own_search_stays_the_cases(cast: Cast, call: Lived) -> None:
    """Held, then booked from the page of the hold: the case has it, pencilled as it is not agreed."""
    client, address = sign_in(cast.desk), reverse("case_time", args=[call.case.pk, SESSION])
    client.post(address, {"hold_at": "2026-03-10T09:00:00+0000"})
    visit = CaseVisit.objects.get()
    assert (visit.purpose, visit.session_number, visit.booking.status) == (SESSION, 1, Status.PENDING)
    act = reverse("booking_act", kwargs={"pk": visit.booking_id, "act": "book-held"})
    words = client.post(act, follow=True).content.decode()
    assert "Pencilled. It lapses by itself unless it is confirmed." in words
    assert lived.fresh(visit).status == Status.PROPOSED


def test_times_after_a_refused_undo_lead_to_the_case(cast: Cast, call: Lived) -> None:
    client = sign_in(cast.desk)
    visit = lived.book(call, SESSION, earliest_at=datetime(2026, 3, 10, tzinfo=UTC), at=NOW)
    booking = lived.fresh(visit)
    diary.cancel(booking=booking, by="patient", reason="", actor=actor_of(cast.desk), now=NOW)
    other = lived.called(cast, name="Bo Andersson", at=NOW)
    lived.book(other, SESSION, earliest_at=booking.starts_at, at=NOW)
    undone = reverse("booking_act", kwargs={"pk": booking.pk, "act": "take-back"})
    page = client.post(undone)
    assert page.status_code == 409
    address = reverse("case_time", args=[call.case.pk, SESSION])
    assert f'action="{address}"' in page.content.decode()
    client.post(address, {"start_at": page.context["openings"].found[0].start_at.isoformat()})
    assert call.case.visits.filter(booking__status=Status.PROPOSED).count() == 1


def test_a_role_at_another_site_books_nothing_here(cast: Cast, call: Lived) -> None:
    """A desk there, a manager here: the site on the screen is theirs, the case's is not."""
    both = hire(cast.alderton, Role.DESK, name="Wei Ling Tan", email="wei@example.org")
    Membership.objects.create(user=both, site=cast.fernbrook, role=Role.MANAGER)
    client, case = sign_in(both), call.case
    with nothing_written():
        for name in ("case_course", "case_course_book", "case_course_let_go", "case_times_confirm"):
            assert client.post(where(case, name)).status_code == 403
        assert client.get(where(case)).status_code == 403
        assert client.post(reverse("case_time", args=[case.pk, SESSION])).status_code == 403
        assert client.post(reverse("case_time_confirm", args=[case.pk, 1])).status_code == 403


@pytest.fixture
def pencilled_course(cast: Cast, call: Lived) -> list[Booking]:
    """Two sessions and the review, pencilled in one press; nothing has gone out yet."""
    client, query = sign_in(cast.desk), "?asked=1&sessions=2&review=on"
    client.post(where(call.case) + query, {"book": found(client, call.case, query).proposals[0].value})
    return [lived.fresh(visit) for visit in call.case.visits.order_by("booking__starts_at")]


def mails(*, now: datetime = NOW) -> list[str]:
    mail.outbox.clear()
    sweep(now=now)
    return [str(one.body) for one in mail.outbox]


def states() -> list[str]:
    rows = DueMessage.objects.filter(kind="visit_pencilled").order_by("pk")
    return [f"{row.state} {row.reason}".strip() for row in rows]


def held(booking: Booking) -> str:
    return f"- {booking.wall_on:%a} {booking.wall_on.day} {booking.wall_on:%b %Y}, {booking.wall_time:%H:%M}"


def test_one_mail_lists_all_that_was_pencilled_in_one_press(pencilled_course: list[Booking]) -> None:
    (body,) = mails()
    assert mail.outbox[0].subject == "Times held for you at Fernbrook"
    assert [re.split(r", [A-Z]|: held", line)[0] for line in body.splitlines() if line.startswith("- ")] == [
        held(one) for one in pencilled_course
    ]
    assert states() == ["handed_over", *["cancelled told together with another visit"] * 2]
    assert mails(now=NOW + timedelta(hours=1)) == []


def test_one_that_is_moved_before_takes_only_itself_out(cast: Cast, pencilled_course: list[Booking]) -> None:
    first, second, review = pencilled_course
    who, then = actor_of(cast.desk), NOW + timedelta(minutes=1)
    moved = diary.move(booking=first, start_at=first.starts_at + timedelta(hours=1), actor=who, now=then)
    bodies = mails(now=then)
    assert [held(second) in body and held(review) in body for body in bodies] == [True, False]
    assert held(moved)[2:] in bodies[1]
    assert all(held(first)[2:] not in body for body in bodies)
    # What was told is told; a later change is said by itself.
    diary.cancel(booking=review, by="practice", reason="", actor=who, now=then)
    assert len(mails(now=then)) == 1
    assert mail.outbox[0].subject == "Your appointment at Fernbrook is cancelled"


def test_where_the_first_mail_is_not_taken_the_others_go_by_themselves(pencilled_course: list[Booking]) -> None:
    DueMessage.objects.filter(subject_id=pencilled_course[0].pk).update(state=State.FAILED)
    (body,) = mails()
    assert held(pencilled_course[0]) not in body
    assert held(pencilled_course[1]) in body
    assert held(pencilled_course[2]) in body


def test_as_texts_each_goes_by_itself_and_a_second_channel_says_how_many(pencilled_course: list[Booking]) -> None:
    rows = list(DueMessage.objects.filter(kind="visit_pencilled").order_by("pk"))
    DueMessage.objects.filter(pk=rows[0].pk).update(state=State.HANDED_OVER, channel=Channel.TEXT)
    wanted, pairs = kinds.get("visit_pencilled").still_wanted, zip(pencilled_course, rows, strict=True)
    told = [wanted(one, row, NOW) for one, row in pairs]
    assert told == [True] * 3
    DueMessage.objects.filter(pk=rows[0].pk).update(state=State.BOUNCED, channel=Channel.EMAIL)
    DueMessage.objects.exclude(pk=rows[0].pk).update(state=State.CANCELLED, reason=TOLD)
    again = DueMessage(subject_id=pencilled_course[0].pk, kind="visit_pencilled", step=100)
    again.planned_at = NOW + timedelta(days=1)
    letter = kinds.get("visit_pencilled").compose(pencilled_course[0], again, "")
    assert letter.sms.startswith("Fernbrook: we hold 3 times for you. Please call us to hear when: ")
