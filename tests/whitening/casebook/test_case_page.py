"""The page of a case: who sees what, what comes next for whom, and that it asks no more as the case grows."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import User
from clinic.diary import marks
from clinic.documents.models import IssuedDocument
from clinic.messages.models import State
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.messages.test_saying import a_message
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from tests.whitening.casebook.test_desk import text
from tests.whitening.chairside import chairs
from whitening.casebook.actions import confirm_pencilled
from whitening.casebook.page import case_page, next_session
from whitening.cases.actions import read_shade
from whitening.cases.models import Case, Moment, VisitPurpose
from whitening.chairside.models import Session
from whitening.consent.actions import withdraw
from whitening.recall.actions import plan_after_session, record_reply
from whitening.recall.models import Escalation
from whitening.recall.triage import Answers

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def steps(user: User, case: Case) -> list[str]:
    """Titles of what this person is offered, the main one first."""
    case = Case.objects.select_related("site", "patient").get(pk=case.pk)
    return [str(step.title) for step in case_page(case, user=user, now=NOW).steps]


def page(user: User, case: Case) -> str:
    return sign_in(user).get(reverse("case", args=[case.pk])).content.decode()


def over(case: Lived) -> Session:
    """The session was closed a moment ago, with its follow-ups planned; no sheet was drawn."""
    lived.here(case)
    session = lived.started(case)
    session.closed_at, session.closed_by = NOW, case.cast.clinician
    session.save()
    plan_after_session(session=session, needs_call=False, actor=actor_of(case.cast.clinician), now=NOW)
    return session


class TestOpeningACase:
    def test_it_works(self, cast: Cast) -> None:
        client = sign_in(cast.desk)
        where = reverse("case_new", args=[cast.patient.pk])
        assert "In their words: what would they like to change?" in client.get(where).content.decode()
        answer = client.post(where, {"wishes": "Lighter.\r\nNot glaring.", "expected_cycles": "4"})
        case = Case.objects.get()
        assert answer.headers["Location"] == reverse("case_time", args=[case.pk, "consultation"])
        assert (case.opened_by, case.expected_cycles) == (cast.desk, 4)
        assert TrailEntry.objects.filter(verb="cases.opened").count() == 1

    @pytest.mark.parametrize(
        "posted",
        [{}, {"wishes": " "}, {"wishes": "x" * 2001}, {"wishes": "a\0b"}, {"wishes": "x", "expected_cycles": "7"}],
    )
    def test_bad_input(self, cast: Cast, posted: dict[str, str]) -> None:
        client, where = sign_in(cast.desk), reverse("case_new", args=[cast.patient.pk])
        with nothing_written():
            answer = client.post(where, {"expected_cycles": "4"} | posted)
        assert answer.status_code == 422

    def test_a_second_one(self, cast: Cast) -> None:
        lived.called(cast)
        client, where = sign_in(cast.desk), reverse("case_new", args=[cast.patient.pk])
        with nothing_written():
            answer = client.post(where, {"wishes": "Once more.", "expected_cycles": "4"})
        assert answer.status_code == 409
        assert "This patient already has an open case." in answer.content.decode()
        assert "Once more." in answer.content.decode()

    def test_other_site(self, cast: Cast) -> None:
        client, where = sign_in(cast.elsewhere_desk), reverse("case_new", args=[cast.patient.pk])
        with nothing_written():
            assert client.post(where, {"wishes": "Lighter.", "expected_cycles": "4"}).status_code == 404


class TestNextSteps:
    def test_on_the_telephone(self, cast: Cast) -> None:
        case = lived.called(cast).case
        assert steps(cast.desk, case) == [
            "Find a time for the consultation",
            "Find a time for the session",
            "Find the whole course",
        ]
        assert steps(cast.clinician, case)[:2] == ["Examine", "Make the plan"]
        assert steps(cast.manager, case) == []

    def test_with_answers(self, cast: Cast) -> None:
        case = lived.with_answers(cast).case
        assert steps(cast.desk, case) == []
        # What is asked in private is the clinician's, and nobody else is offered it.
        in_private = "Answer the questions with the patient here"
        assert steps(cast.clinician, case) == ["Read answers and findings", "Examine", "Make the plan", in_private]
        assert steps(cast.assistant, case) == []
        # The hygienist of the cast neither decides nor reads answers.
        assert steps(cast.hygienist, case) == []

    def test_planned(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        lived.examined(case)
        lived.planned(case)
        assert steps(cast.clinician, case.case) == ["Talk, sign, countersign"]

    def test_signed(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        lived.examined(case)
        lived.planned(case)
        lived.signed(case)
        assert steps(cast.desk, case.case) == ["Confirm the pencilled time"]

    def test_a_pencilled_time_is_not_ready(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        lived.examined(case)
        lived.planned(case)
        lived.signed(case)
        (gate,) = [one for one in case_page(case.case, user=cast.desk, now=NOW).gates if one.code == "booked_time"]
        assert (gate.mark, gate.is_shut) == ("not-yet", False)
        assert "confirm it before then" in page(cast.desk, case.case)
        assert case.session is not None
        mark = marks.marks_for([lived.fresh(case.session)], user=cast.desk, now=NOW)[case.session.booking_id]
        # Beside its status in the diary: nothing clinical is left to do with care.
        assert mark.kind == "ready"

    def test_on_the_day(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        assert steps(cast.desk, case.case) == []
        assert steps(cast.assistant, case.case) == ["Ask again today"]
        lived.here(case)
        assert steps(cast.assistant, case.case) == ["Start the session"]
        lived.started(case)
        assert steps(cast.assistant, case.case)[0] == "Go on with the session"

    def test_afterwards(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        over(case)
        assert steps(cast.clinician, case.case) == [
            "Type in how the patient is",
            "Find a time for the month review",
            "Send a link to pick the month review’s time",
            "Find a time for a problem visit",
            "Make the aftercare sheet",
        ]
        assert steps(cast.desk, case.case) == [
            "Find a time for the month review",
            "Send a link to pick the month review’s time",
            "Find a time for a problem visit",
            "Make the aftercare sheet",
        ]

    @pytest.mark.parametrize(("days", "offered"), [(27, False), (28, True), (50, True)])
    def test_the_review_once_it_can_be_recorded(self, cast: Cast, days: int, offered: bool) -> None:
        """The colour settles until day 28 (reference: the review's window of the follow-up rules)."""
        case = lived.agreed(cast)
        over(case)
        fresh = Case.objects.select_related("site", "patient").get(pk=case.case.pk)
        found = case_page(fresh, user=cast.clinician, now=NOW + timedelta(days=days)).steps
        assert ("Record the month review" in [str(step.title) for step in found]) is offered

    def test_what_worries_comes_first(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        session = over(case)
        patient = Actor(kind="patient", id=str(case.case.patient_id), name="Zoë")
        for answers in (Answers(sensitivity=5), Answers(swelling=True)):
            record_reply(session=session, answers=answers, actor=patient, now=NOW + timedelta(days=2))
        first, second, *_rest = case_page(case.case, user=cast.clinician, now=NOW + timedelta(days=2)).steps
        worst = Escalation.objects.order_by("-urgency").first()
        assert worst is not None
        assert (str(first.title), first.url) == ("See to what the patient said", reverse("escalation", args=[worst.pk]))
        assert str(second.title) != str(first.title)
        # What was said is not the desk's to read.
        assert "See to what the patient said" not in steps(cast.desk, case.case)

    def test_between_two_sessions(self, cast: Cast) -> None:
        case = lived.with_answers(cast)
        lived.examined(case)
        lived.planned(case, sessions=2)
        lived.signed(case)
        assert case.session is not None
        confirm_pencilled(case=case.case, visit=case.session, actor=actor_of(cast.desk), now=lived.MONDAY)
        over(case)
        assert "Find a time for the session" not in steps(cast.desk, case.case)
        case.session.booking.refresh_from_db()
        case.session.booking.status = "fulfilled"
        case.session.booking.save()
        assert steps(cast.desk, case.case)[0] == "Find a time for the session"

    def test_closed(self, cast: Cast) -> None:
        case = lived.called(cast).case
        sign_in(cast.desk).post(reverse("case_close", args=[case.pk]), {"reason": "moved_away"})
        assert steps(cast.desk, case) == []
        shown = page(cast.desk, case)
        assert "moved away" in shown


class TestThePage:
    def test_it_works(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        for moment, tab, days in ((Moment.START, "A3", 0), (Moment.FINISH, "A1", 0), (Moment.REVIEW, "A2", 29)):
            read_shade(
                case=case.case,
                moment=moment,
                tab=tab,
                actor=actor_of(cast.clinician),
                now=NOW + timedelta(days=days),
            )
        words = page(cast.clinician, case.case)
        # A3 is the ninth rung of the guide in value order, A2 the fifth.
        assert "4 steps lighter" in words
        assert words.count('<circle class="ladder-point') == 3
        for shown in (
            "“A shade or two lighter.”",
            "Visit confirmed",
            "signed the consent",
            "Clear to start today?",
            "Consent",
            "Plan 1",
        ):
            assert shown in words
        assert "provisional: teeth are dry</span></p>" not in words
        # Newest first.
        assert words.index("countersigned the consent") < words.index("opened a whitening case")

    def test_messages_are_told_in_plain_words(self, cast: Cast) -> None:
        case = chairs.a_case(cast)
        a_message(cast, state=State.CANCELLED, reason="changed since", settled_at=NOW)
        found = page(cast.desk, case)
        assert "not sent: the visit has changed since" in text(found)
        assert "Visit confirmed" in found

    def test_dry_teeth_are_no_result(self, cast: Cast) -> None:
        case = lived.called(cast)
        for moment, tab in ((Moment.START, "A3"), (Moment.FINISH, "A1")):
            read_shade(case=case.case, moment=moment, tab=tab, actor=actor_of(cast.clinician), now=NOW)
        assert "7 steps lighter" in page(cast.clinician, case.case)
        assert "provisional: teeth are dry</span></p>" in page(cast.clinician, case.case)

    def test_a_consent_withdrawn_in_the_chair_stands_here_too(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        lived.here(case)
        lived.started(case)
        assert "Clear to start" not in page(cast.clinician, case.case)
        withdraw(case=case.case, words="", actor=actor_of(cast.assistant), now=NOW)
        for reader in (cast.clinician, cast.desk):
            words = page(reader, case.case)
            assert "Consent was withdrawn" in words
            assert "recorded that the consent is withdrawn" in words
            assert "Ask for name and date of birth on the day" not in words

    def test_once_all_is_treated_nothing_has_to_be_clear(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        over(case)
        assert "Clear to start" not in page(cast.clinician, case.case)

    def test_darker_is_said_as_well(self, cast: Cast) -> None:
        case = lived.called(cast)
        for tab in ("A1", "A3"):
            read_shade(case=case.case, moment=Moment.START, tab=tab, actor=actor_of(cast.clinician), now=NOW)
        assert "Darker than at the start" in page(cast.clinician, case.case)

    def test_it_writes_nothing(self, cast: Cast) -> None:
        client, case = sign_in(cast.clinician), lived.with_answers(cast).case
        with nothing_written():
            client.get(reverse("case", args=[case.pk]))

    def test_until_when_it_waits(self, cast: Cast) -> None:
        case = lived.called(cast).case
        lived.put_off(cast, case, date(2026, 3, 20))
        assert "waiting until Fri 20 Mar 2026" in text(page(cast.desk, case))

    def test_the_desk_reads_no_clinical_paper(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        consent = IssuedDocument.objects.get()
        link = reverse("document_file", args=[consent.pk])
        assert link in page(cast.clinician, case.case)
        assert link not in page(cast.desk, case.case)

    def test_gates_lead_only_where_one_may_go(self, cast: Cast) -> None:
        case = lived.with_answers(cast).case
        assert reverse("assessment", args=[case.pk]) in page(cast.clinician, case)
        assert reverse("assessment", args=[case.pk]) not in page(cast.desk, case)
        assert reverse("case_identity", args=[case.pk]) in page(cast.assistant, case)
        assert reverse("case_identity", args=[case.pk]) not in page(cast.desk, case)

    def test_closing_needs_a_reason(self, cast: Cast) -> None:
        client, case = sign_in(cast.desk), lived.called(cast).case
        where = reverse("case_close", args=[case.pk])
        with nothing_written():
            answer = client.post(where, {"reason": "tired"}, follow=True)
        assert "Pick the reason why the case closes." in answer.content.decode()
        client.post(where, {"reason": "moved_away"})
        with nothing_written():
            answer = client.post(where, {"reason": "moved_away"}, follow=True)
        assert "This case is closed." in answer.content.decode()

    def test_of_two_sessions_to_come_the_next_one_counts(self, cast: Cast) -> None:
        case = lived.called(cast)
        for days in (14, 7):
            lived.book(case, VisitPurpose.SESSION, earliest_at=NOW + timedelta(days=days), at=NOW)
        found = next_session(list(case.case.visits.select_related("booking")), NOW.date())
        assert found is not None
        assert found.booking.wall_on == date(2026, 3, 10)


def queries(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


class TestItAsksNoMoreAsThingsGrow:
    def test_today(self, cast: Cast) -> None:
        client, counts = sign_in(cast.desk), []
        lived.with_answers(cast)
        lived.with_answers(cast, name="Bo Andersson")
        # Once a day it also looks whether the clock rules have changed.
        client.get(reverse("today"))
        for number in range(4):
            case = lived.called(cast, name=f"Guest Number {number}")
            # A session of today takes two hours, so the further ones are consultations and reviews beside it.
            lived.book(case, VisitPurpose.CONSULTATION, earliest_at=NOW)
            lived.answer(case)
            counts.append((queries(client, reverse("today")), queries(client, reverse("diary"))))
        assert counts[-1] == counts[0]

    def test_sessions_of_today(self, cast: Cast) -> None:
        """Gate by gate, for two sessions and for five."""
        client = sign_in(cast.desk)
        client.get(reverse("today"))
        counts = []
        for size in (2, 3):
            for number in range(size):
                case = lived.called(cast, name=f"Guest {size} {number}")
                # The first one is of another day, for the list of times to be moved.
                lived.book(case, VisitPurpose.SESSION, earliest_at=NOW + timedelta(days=number == 0))
                lived.answer(case)
                lived.examined(case)
                lived.planned(case)
            counts.append(queries(client, reverse("today")))
        assert counts[0] == counts[1]

    def test_the_case_page(self, cast: Cast) -> None:
        case = lived.agreed(cast)
        client, where = sign_in(cast.clinician), reverse("case", args=[case.case.pk])
        few = queries(client, where)
        for number in range(6):
            lived.answer(case, at=NOW)
            lived.examined(case, at=NOW)
            read_shade(case=case.case, moment=Moment.START, tab="A2", actor=actor_of(cast.clinician), now=NOW)
            lived.book(case, VisitPurpose.PROBLEM, earliest_at=NOW + timedelta(days=1 + number), at=NOW)
        assert queries(client, where) == few

    def test_a_patient_with_many_cases(self, cast: Cast) -> None:
        client, where = sign_in(cast.desk), reverse("patient", args=[cast.patient.pk])
        counts = []
        for _size in (1, 2):
            case = lived.called(cast).case
            queries(client, where)
            counts.append(queries(client, where))
            client.post(reverse("case_close", args=[case.pk]), {"reason": "patient_ended"})
        assert counts[0] == counts[1]


class TestTheDeskWithdraws:
    """On the patient's word, in one press, without being shown what was agreed."""

    def test_it_works(self, cast: Cast) -> None:
        case = lived.agreed(cast).case
        assert "Withdraw the consent" in page(cast.desk, case)
        sign_in(cast.desk).post(reverse("consent_withdraw", args=[case.pk]))
        assert case.signatures.get().withdrawal.withdrawn_by == cast.desk.name
        assert "Withdraw the consent" not in page(cast.desk, case)

    def test_not_before_anything_is_signed(self, cast: Cast) -> None:
        assert "Withdraw the consent" not in page(cast.desk, lived.with_answers(cast).case)


def test_a_language_that_is_not_written_here_is_said_on_top(cast: Cast) -> None:
    cast.patient.language = "ar"
    cast.patient.save()
    said = "go out in English: no complete Arabic translation is installed. Arrange an interpreter."
    assert said in text(page(cast.desk, chairs.a_case(cast)))
