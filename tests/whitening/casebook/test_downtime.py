"""The downtime pack: the day, a card for each whitening session, blank questions; printed by one press."""

from datetime import date, timedelta
from io import BytesIO
from typing import Any
from unittest.mock import patch

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.diary import actions as diary
from clinic.documents import rendering
from clinic.documents.models import IssuedDocument
from clinic.patients.models import Patient
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.pdf import findings
from tests.support import nothing_written, stored_files
from tests.whitening.casebook import lived
from whitening.casebook.downtime import next_day_with_visits
from whitening.casebook.gates import Gate, GateState
from whitening.casebook.session_card import points_of
from whitening.cases.models import VisitPurpose

TUESDAY = NOW.date()
DRAW = rendering.draw


def gate(code: str, state: GateState, **more: Any) -> Gate:
    return Gate(code, code, state, ("said",), **more)


def test_only_what_is_not_settled_beforehand_stands_on_the_card() -> None:
    found = points_of(
        [
            gate("identity", GateState.SHUT, on_the_day=True),
            gate("consent", GateState.SHUT),
            gate("plan", GateState.OPEN),
            gate("light", GateState.NOT_NEEDED),
            gate("questions", GateState.CLEARED),
            gate("booked_time", GateState.WITH_CARE),
        ]
    )
    assert [(one.title, str(one.word), one.is_shut) for one in found] == [
        ("consent", "Missing", True),
        ("questions", "Cleared by decision", False),
        ("booked_time", "With care", False),
    ]


def pages_of(page: Answer) -> list[str]:
    return [" ".join(one.extract_text().split()) for one in PdfReader(BytesIO(page.content)).pages]


def text_of(page: Answer) -> str:
    return " ".join(pages_of(page))


def press(client: Client, path: str, **data: str) -> Answer:
    """Really drawn: the other papers of this room are blank."""
    with patch.object(rendering, "draw", DRAW):
        return client.post(path, data)


def address(day: date = TUESDAY) -> str:
    return reverse("diary_paper", args=[day.isoformat(), "downtime"])


@pytest.fixture
def _tuesday() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.mark.django_db
@pytest.mark.usefixtures("_tuesday")
class TestThePack:
    def test_it_works(self, cast: Cast) -> None:
        """In large print on Letter; the other tests are in small print on A4."""
        course = lived.agreed(cast, instead={"sensitivity": ["2"]})
        Site.objects.update(country="US")
        Patient.objects.filter(pk=cast.patient.pk).update(allergies="Latex")
        lived.book(lived.called(cast, name="Bo Andersson"), VisitPurpose.CONSULTATION, earliest_at=NOW)
        dentist, files = sign_in(cast.clinician), stored_files()
        page = press(dentist, address(), large="1")
        assert (page["Content-Type"], findings(page.content)) == ("application/pdf", [])
        text = text_of(page)
        for said in (
            "Downtime pack, Tue 3 Mar 2026",
            "2 visits, 1 whitening session",
            "Printed Tue 3 Mar 2026, 09:00",
            "Bo Andersson",
            "+44 20 7946 0101",
            "Session card, 10:00: Amara Nwosu",
            "Nothing was missing when this was printed.",
            "Allergies: Latex",
            "4 cycles of 15 min at the most",
            "For whoever treats, not for the desk:",
            "Asked again today, each item read out",
            "1. Which medicines, herbs or food supplements do you take?",
        ):
            assert said in text, said
        # Loose sheets are mixed up easily: each of the card says whose it is, and no other does.
        named = ["Amara Nwosu, born 17 May 1990" in one for one in pages_of(page)]
        first, sheets = named.index(True), sum(named)
        assert named[first : first + sheets] == [True] * 4
        assert "Questions before your visit" in pages_of(page)[first + sheets]
        entry = TrailEntry.objects.get(verb="documents.printed")
        assert (entry.subject_kind, entry.subject_id) == ("diary", "2026-03-03")
        # Nothing of so many people stays behind.
        assert stored_files() == files
        assert not IssuedDocument.objects.filter(kind="downtime_pack").exists()
        assert course.session is not None

    def test_the_desk_prints_what_was_missing_without_a_reason(self, cast: Cast) -> None:
        lived.with_answers(cast, instead={"pregnancy_may_apply": ["yes"], "pregnant": ["yes"]})
        page = press(sign_in(cast.desk), address())
        text = text_of(page)
        assert findings(page.content) == []
        assert "whoever printed this may not read it" in text
        assert "For whoever treats" not in text
        assert "There is no plan: no session without one." in text
        assert "Health questions: Missing · Dentist to decide" in text
        # Of this patient; the blank questions ask everybody.
        assert "regnan" not in text[: text.index("Asked again today")]

    def test_it_stands_on_today_for_the_next_day_with_visits(self, cast: Cast) -> None:
        call = lived.called(cast)
        desk = sign_in(cast.desk)
        assert address(TUESDAY + timedelta(days=1)) in desk.get(reverse("today")).content.decode()
        visit = lived.book(call, VisitPurpose.CONSULTATION, earliest_at=NOW + timedelta(days=3))
        friday = visit.booking.wall_on
        assert address(friday) in desk.get(reverse("today")).content.decode()
        diary.cancel(booking=visit.booking, by="patient", why="", reason="", actor=actor_of(cast.desk), now=NOW)
        assert next_day_with_visits(cast.fernbrook, today=TUESDAY) == TUESDAY + timedelta(days=1)

    def test_the_day_of_the_diary_has_both_papers(self, cast: Cast) -> None:
        lived.open_surgery(cast)
        desk = sign_in(cast.desk)
        page = desk.get(reverse("diary_day", args=["2026-03-05"])).content.decode()
        assert address(date(2026, 3, 5)) in page
        blank = reverse("diary_paper", args=["2026-03-05", "questions"])
        assert blank in page
        assert page.index(address(date(2026, 3, 5))) < page.index(blank)
        assert "Your name" in text_of(press(desk, blank))

    def test_a_day_without_visits(self, cast: Cast) -> None:
        text = text_of(press(sign_in(cast.manager), address(date(2026, 3, 8))))
        assert "Nobody is booked on this day." in text
        assert "0 visits, 0 whitening sessions" in text

    def test_what_is_no_paper_and_no_day(self, cast: Cast) -> None:
        desk = sign_in(cast.desk)
        with nothing_written():
            for path in ("/diary/2026-03-03/papers/receipt/", "/diary/2026-02-30/papers/downtime/"):
                assert desk.post(path).status_code == 404, path
