"""What the desk sees of a case: what is missing, and never why."""

import re

import pytest
import time_machine
from django.urls import reverse

from clinic.accounts.models import User
from clinic.diary.marks import Mark, marks_for
from clinic.diary.reading import bookings_on
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from whitening.casebook import booking_marks
from whitening.casebook.gates import Gate, GateState
from whitening.cases.models import VisitPurpose
from whitening.recall.actions import record_reply
from whitening.recall.triage import Answers
from whitening.screening.examination import Gums
from whitening.screening.outcome import Outcome
from whitening.screening.reading import outcome_of
from whitening.screening.rulebook import rules

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
# Answers that make a finding of each grade, and the words of which not one may reach the desk.
WORRIES: dict[str, dict[str, list[str]]] = {
    "pregnant": {"pregnancy_may_apply": ["yes"], "pregnant": ["yes"]},
    "peroxide": {"reacted_to_peroxide": ["yes"]},
    "sensitive": {"sensitivity": ["6"]},
}
WORDS = re.compile(
    r"pregnan|allerg(?!ies:)|peroxide reaction|sensitiv|gum disease|caries|cavity|medicine|must not|infection|herpes|"
    r"cold sore|photosens|\bPRG-|\bALG-|\bSEN-|\bPER-",
    re.IGNORECASE,
)


def text(html: str) -> str:
    """What is read on the page itself."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html.split("<main")[1].split("</main>", maxsplit=1)[0]))


def pages(user: User, case: Lived) -> list[str]:
    client = sign_in(user)
    addresses = (
        reverse("today"),
        reverse("diary"),
        reverse("case", args=[case.case.pk]),
        reverse("patient", args=[case.case.patient_id]),
        reverse("followups"),
    )
    return [client.get(address).content.decode() for address in addresses]


def marks_of(cast: Cast) -> dict[int, Mark]:
    return marks_for(bookings_on(cast.fernbrook, NOW.date()), user=cast.desk, now=NOW)


def outcome(case: Lived) -> Outcome:
    return outcome_of(case.case, today=NOW.date())


@pytest.mark.parametrize("worry", WORRIES)
def test_no_finding_word_reaches_the_desk(cast: Cast, worry: str) -> None:
    case = lived.with_answers(cast, instead=WORRIES[worry])
    lived.examined(case, gums=Gums(inflamed=True))
    found = outcome(case).findings
    assert found, "the answers were meant to make a finding"
    for html in pages(cast.desk, case):
        shown = text(html)
        assert WORDS.search(shown) is None, shown
        for finding in found:
            assert str(finding.rule.finding) not in shown
            assert finding.rule.code not in html


def test_the_diary_says_what_is_missing_and_not_why(cast: Cast) -> None:
    case = lived.with_answers(cast, instead=WORRIES["pregnant"])
    assert case.session is not None
    mark = marks_of(cast)[case.session.booking_id]
    assert (mark.kind, mark.url) == ("missing", reverse("case", args=[case.case.pk]))
    assert mark.lines[0].startswith("Health questions: ")
    said = {line.partition(": ")[2] for line in map(str, mark.lines) if line.startswith("Health questions")}
    assert all(
        words in {"Answers missing", "Dentist to decide", "Not going ahead"} or words.startswith("Not before")
        for words in said
    )


def test_today_says_who_comes_and_how_many_are_not_ready(cast: Cast) -> None:
    case = lived.with_answers(cast)
    words = text(sign_in(cast.desk).get(reverse("today")).content.decode())
    assert "Tue 3 Mar 2026: 1 person, 1 not ready yet" in words.replace(" :", ":")
    assert "Amara Nwosu" in words
    assert "Examination: Not examined yet" in words
    assert case.session is not None


def test_a_ready_session_is_ready(cast: Cast) -> None:
    case = lived.agreed(cast)
    assert case.session is not None
    assert marks_of(cast)[case.session.booking_id] == Mark("ready", (), reverse("case", args=[case.case.pk]))
    words = text(sign_in(cast.desk).get(reverse("today")).content.decode())
    assert "not ready" not in words


def test_a_consultation_is_ready_once_the_answers_are_there(cast: Cast, clock: time_machine.Traveller) -> None:
    call = lived.called(cast)
    visit = lived.book(call, VisitPurpose.CONSULTATION, earliest_at=lived.MONDAY)
    clock.move_to(lived.MONDAY)

    def kind() -> str:
        found = marks_for(bookings_on(cast.fernbrook, lived.MONDAY.date()), user=cast.desk, now=lived.MONDAY)
        return found[visit.booking_id].kind

    assert kind() == "missing"
    lived.answer(call)
    assert kind() == "ready"


@pytest.mark.parametrize(
    ("state", "kind"), [(GateState.WITH_CARE, "care"), (GateState.CLEARED, "cleared"), (GateState.NOT_NEEDED, "ready")]
)
def test_a_step_of_care_and_a_decision_have_marks_of_their_own(state: GateState, kind: str) -> None:
    assert booking_marks._kind([Gate("questions", "Health questions", state)]) == kind


def test_a_worrying_answer_is_a_card_without_its_words(cast: Cast) -> None:
    case = lived.agreed(cast)
    lived.here(case)
    session = lived.started(case)
    session.closed_at, session.closed_by = NOW, cast.clinician
    session.save()
    record_reply(session=session, answers=Answers(swelling=True, gums="raw"), actor=actor_of(cast.desk), now=NOW)
    words = text(sign_in(cast.desk).get(reverse("today")).content.decode())
    assert "Answer these first" in words
    assert "swell" not in words
    assert "raw" not in words


def test_every_rule_has_a_word_that_the_search_knows_or_a_code() -> None:
    """The search above would notice a finding's own sentence and code; this guards that there are some."""
    assert all(rule.finding and rule.code for rule in rules().values())
