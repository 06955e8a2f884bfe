"""A session starts through its gates only, and goes on while they stand."""

from contextlib import nullcontext
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary.models import Status
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from whitening.casebook.actions import SessionStillRuns, end_case
from whitening.casebook.actions.sessions import NotASessionOfToday, start_session
from whitening.casebook.facts import Ask, facts_of_many
from whitening.casebook.gates import evaluate
from whitening.casebook.going_on import against_going_on
from whitening.cases.actions import CaseClosed, close_case
from whitening.cases.models import CloseReason
from whitening.chairside.actions import GatesShut
from whitening.chairside.models import Session
from whitening.consent.actions import withdraw
from whitening.screening.actions import DecisionNotPossible, ask_again, decide, decide_reask
from whitening.screening.decisions import DecisionKind
from whitening.screening.grades import Profession
from whitening.screening.reading import answers_of, outcome_of
from whitening.screening.reask import reask_items

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


def start(case: Lived) -> str:
    assert case.session is not None
    return reverse("session_start", args=[case.case.pk, case.session.pk])


def test_it_works(cast: Cast) -> None:
    case = lived.agreed(cast)
    lived.here(case)
    client = sign_in(cast.clinician)
    page = client.get(reverse("case", args=[case.case.pk])).content.decode()
    assert "Start the session" in page
    answer = client.post(start(case))
    session = Session.objects.get()
    assert answer.headers["Location"] == reverse("chairside", args=[session.pk])
    assert (session.opened_by, session.plan.version, session.number) == (cast.clinician, 1, 1)
    assert case.session is not None
    assert fresh(case.session).status == Status.CHECKED_IN
    # From now on the page leads to the chair.
    page = client.get(reverse("case", args=[case.case.pk])).content.decode()
    assert "Go on with the session" in page
    assert "Start the session" not in page


def test_a_shut_gate_is_named_and_nothing_starts(cast: Cast) -> None:
    case = lived.agreed(cast)
    client = sign_in(cast.clinician)
    with nothing_written():
        answer = client.post(start(case))
    assert answer.status_code == 302
    words = client.get(reverse("case", args=[case.case.pk])).content.decode()
    assert "The session cannot start yet. Settle first: Who it is, Asked again today." in words


def test_without_a_plan(cast: Cast) -> None:
    case = lived.with_answers(cast)
    assert case.session is not None
    case.session.booking.status = Status.BOOKED
    case.session.booking.lapses_at = None
    case.session.booking.save()
    with nothing_written(), pytest.raises(GatesShut, match="Plan"):
        lived.started(case)


def test_a_withdrawn_consent_keeps_it_shut(cast: Cast) -> None:
    case = lived.agreed(cast)
    lived.here(case)
    withdraw(case=case.case, words="", actor=case.themselves, now=NOW)
    with nothing_written(), pytest.raises(GatesShut, match="Consent"):
        lived.started(case)


def test_a_pencilled_time_is_not_started(cast: Cast) -> None:
    case = lived.with_answers(cast)
    with nothing_written(), pytest.raises(NotASessionOfToday):
        lived.started(case)


def test_only_on_its_day(cast: Cast) -> None:
    case = lived.agreed(cast)
    with nothing_written(), pytest.raises(NotASessionOfToday):
        lived.started(case, at=NOW + timedelta(days=1))


def test_a_consultation_is_no_session(cast: Cast) -> None:
    case = lived.agreed(cast)
    lived.here(case)
    assert case.consultation is not None
    with nothing_written(), pytest.raises(NotASessionOfToday):
        start_session(
            case=case.case,
            visit=case.consultation,
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=lived.MONDAY,
        )


def test_a_closed_case_starts_nothing(cast: Cast) -> None:
    case = lived.agreed(cast)
    lived.here(case)
    close_case(case=case.case, reason=CloseReason.MOVED_AWAY, words="", actor=actor_of(cast.desk), now=NOW)
    with nothing_written(), pytest.raises(CaseClosed):
        lived.started(case)


def test_an_assistant_starts_for_the_dentist_who_is_booked(cast: Cast) -> None:
    """The gates ask who carries it out, not who pressed the button."""
    case = lived.agreed(cast)
    lived.here(case)
    answer = sign_in(cast.assistant).post(start(case))
    session = Session.objects.get()
    assert answer.headers["Location"] == reverse("chairside", args=[session.pk])
    assert against_going_on(session, NOW) == ()


def test_another_sites_staff(cast: Cast) -> None:
    case = lived.agreed(cast)
    client = sign_in(cast.elsewhere)
    with nothing_written():
        assert client.post(start(case)).status_code == 404


def test_a_visit_of_another_case(cast: Cast) -> None:
    case = lived.agreed(cast)
    other = lived.called(cast, name="Bo Andersson")
    assert case.session is not None
    url = reverse("session_start", args=[other.case.pk, case.session.pk])
    assert sign_in(cast.clinician).post(url).status_code == 404


class TestWhileItRuns:
    @pytest.fixture
    def case(self, cast: Cast) -> Lived:
        case = lived.agreed(cast)
        lived.here(case)
        lived.started(case)
        return case

    def test_it_goes_on_while_all_stands(self, case: Lived) -> None:
        assert words() == []

    def test_it_stops_with_the_consent(self, case: Lived) -> None:
        withdraw(case=case.case, words="", actor=case.themselves, now=NOW)
        assert words() == ["Consent was withdrawn"]

    def test_it_stops_with_a_new_finding(self, case: Lived) -> None:
        lived.answer(case, instead={"reacted_to_peroxide": ["yes"]}, at=NOW)
        assert words() == ["Dentist to decide"]

    @pytest.mark.parametrize(
        ("reply", "against"),
        [
            ({}, []),
            ({"new_medicine": "yes"}, ["Answers missing"]),
            ({"cold_sore": "yes"}, ["Dentist to decide", "Not before Fri 13 Mar 2026"]),
            ({"illness": "yes"}, ["Something new was said today: a clinician decides"]),
            ({"go_ahead": "no"}, ["The patient does not want to go ahead"]),
            ({"go_ahead": "no", "illness": "yes"}, ["The patient does not want to go ahead"]),
        ],
    )
    def test_it_stops_with_what_is_new_today(self, case: Lived, reply: dict[str, str], against: list[str]) -> None:
        asked_meanwhile(case, **reply)
        assert words() == against

    def test_it_goes_on_once_a_clinician_has_decided(self, case: Lived) -> None:
        asked_meanwhile(case, illness="yes")
        dentist = case.cast.clinician
        decide_reask(case=case.case, reason="A cold, over.", user=dentist, actor=actor_of(dentist), now=NOW)
        assert words() == []

    def test_the_chair_says_what_stands_against_it(self, case: Lived) -> None:
        """And holds all that was recorded: with the answer given, the screen is as it was."""
        nurse, session = sign_in(case.cast.assistant), Session.objects.get()
        chair = reverse("chairside", args=[session.pk])
        asked_meanwhile(case, new_medicine="yes")
        text = nurse.get(chair).content.decode()
        for said in ("Stop: no gel may go on.", "<li>Answers missing</li>", "Ask what is still open"):
            assert said in text
        asked = {"source": "chair", "medicines": "none", "light_medicines": "none"}
        answered = nurse.post(reverse("ask", args=[case.case.pk]), asked)
        assert answered["Location"] == chair
        text = nurse.get(chair).content.decode()
        assert "Stop: no gel may go on." not in text
        assert session.events.filter(kind="reask").count() == 2

    def test_it_asks_the_database_little(self, case: Lived) -> None:
        """Asked at each tap: case, plan, signature, answers, examination, decisions, re-asks, local rule, once each."""
        session = Session.objects.select_related("opened_by", "booking").get()
        with CaptureQueriesContext(connection) as asked:
            against_going_on(session, NOW)
        assert len(asked) == 8

    def test_the_case_is_not_closed_under_it(self, cast: Cast, case: Lived) -> None:
        with nothing_written(), pytest.raises(SessionStillRuns):
            end_case(
                case=case.case,
                reason=CloseReason.PATIENT_ENDED,
                words="",
                user=cast.desk,
                actor=actor_of(cast.desk),
                now=NOW,
            )


@pytest.mark.parametrize("kind", [DecisionKind.CLEARED, DecisionKind.STANDS])
def test_a_must_not_stays_shut_whatever_is_decided(cast: Cast, kind: DecisionKind) -> None:
    """An override is refused; that it stands can be decided, and then the desk reads the end of it."""
    case = lived.with_answers(cast, instead={"reacted_to_peroxide": ["yes"]})
    lived.examined(case)
    finding = outcome_of(case.case, today=NOW.date()).finding("ALG-01")
    assert finding is not None
    refused = DecisionNotPossible if kind is DecisionKind.CLEARED else None
    with pytest.raises(refused) if refused else nullcontext():
        decide(
            case=case.case,
            rule="ALG-01",
            basis=finding.basis,
            kind=kind,
            reason="Said so twice.",
            evidence="",
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=NOW,
        )
    ask = Ask(case_id=case.case.pk, day=NOW.date(), carried_out_by=Profession.DENTIST)
    gates = {gate.code: gate for gate in evaluate(facts_of_many([ask])[0])}
    words = ["Dentist to decide"] if refused else ["Not going ahead"]
    assert [str(said) for said in gates["questions"].says] == words


def words() -> list[str]:
    return [str(each) for each in against_going_on(Session.objects.get(), NOW)]


def asked_meanwhile(case: Lived, **changed: str) -> None:
    answers = answers_of(case.case)
    assert answers is not None
    replies = {item.id: item.usual for item in reask_items(answers)} | changed
    nurse = case.cast.assistant
    ask_again(case=case.case, shown=list(replies), replies=replies, user=nurse, actor=actor_of(nurse), now=NOW)
