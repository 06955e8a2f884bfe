"""The record of a session on paper: true to its log, kept, and made anew where the log has grown."""

from datetime import timedelta
from io import BytesIO

import pytest
import time_machine
from django.urls import reverse
from pypdf import PdfReader
from pytest_django import DjangoCaptureOnCommitCallbacks

from clinic.accounts.models import Site
from clinic.documents import archive
from clinic.documents.client import POOL
from clinic.documents.failures import RenderFailed
from clinic.documents.models import IssuedDocument
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.pdf import findings
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from tests.whitening.chairside.protocol_cases import JONAS, PLAN, Log, cycle, ready, with_gel
from tests.whitening.recall import afterwards
from whitening.chairside.actions import close_session
from whitening.chairside.models import Session, SessionEvent
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Choice, Difference, FirstAid, Place, TakeOffReason
from whitening.chairside.protocol.marks import Beyond
from whitening.chairside.record_facts import RecordFacts, record_facts
from whitening.chairside.session_record import SessionStillOpen, after_closing, record_paper


def facts_of(log: Log) -> RecordFacts:
    return record_facts(log.events, PLAN, now=log.now)


def test_cycles_with_their_pauses_and_scores() -> None:
    log = cycle(with_gel(), 1, score=3)
    log.write(made.MixStarted(batch=8, number="B-118"), after=55)
    facts = facts_of(cycle(log, 2, mix=2, score=1, minutes=9))
    assert [(one.number, one.batch, one.sensitivity) for one in facts.cycles] == [(1, "B-117", 3), (2, "B-118", 1)]
    assert [one.on_for for one in facts.cycles] == [timedelta(minutes=10), timedelta(minutes=9)]
    # Rinsed and asked for 20 s, decided for 5, mixed after 55, on after 10.
    assert [one.pause for one in facts.cycles] == [None, timedelta(seconds=90)]
    assert (facts.contact, sorted(facts.batches)) == (timedelta(minutes=19), [7, 8])


def test_what_was_stopped_and_why() -> None:
    log = with_gel().write(made.TakeOffNow(), after=120)
    log.write(made.GelOff(), after=8)
    log.write(made.TakeOffReasonGiven(reason=TakeOffReason.OTHER, words="A fire alarm."), after=60)
    log.write(made.Contact(place=Place.LIP), after=5)
    contact = log.last_seq()
    log.write(made.ContactSettled(contact=contact, action=FirstAid.FLUSHED), after=5)
    log.write(made.EndedEarly(difference=Difference.NONE), after=5)
    facts = facts_of(log)
    said = [(str(one.words), one.own_words) for one in facts.stopped]
    assert said == [
        ("Take the gel off now", ""),
        ("Why the gel was taken off: another reason", "A fire alarm."),
        ("Lip touched", ""),
        ("Contact settled: flushed, looks normal", ""),
        ("Ended early: no difference between the arches", ""),
    ]
    assert [one.is_taken_off for one in facts.cycles] == [True]


def test_what_was_taken_back_stays_and_counts_for_nothing() -> None:
    log = ready().write(made.Contact(place=Place.GUM)).write(made.Sensitivity(score=9), after=5)
    log.undo(after=5)
    facts = facts_of(log)
    scored = next(one for one in facts.entries if "9" in str(one.words))
    assert (scored.is_taken_back, len(facts.entries)) == (True, len(log.events))
    assert facts.entries[-1].detail == f"entry {scored.seq}"
    assert [str(one.words) for one in facts.stopped] == ["Gum touched"]


def test_an_entry_written_late_says_when() -> None:
    log = ready().write(made.Decided(choice=Choice.STOP_HERE), late=120)
    assert facts_of(log).late == []
    log.write(made.Words(words="The network was down."), after=5, late=121)
    later = made.WrittenLater(seen_by=JONAS, written_by=JONAS, seen_at=log.now, written_at=log.now)
    facts = facts_of(log.write(later, after=5))
    assert [one.own_words for one in facts.late] == ["The network was down.", ""]
    assert facts.late[0].recorded_at == log.events[-2].recorded_at
    assert (facts.late[1].recorded_at, facts.late[1].detail) == (
        None,
        "seen by Jonas Lindqvist, written by Jonas Lindqvist",
    )


def test_what_went_past_a_limit_is_named_where_it_happened() -> None:
    log = Log().write(made.GelOn(cycle=1, mix=None), after=60)
    marked = facts_of(log).marked
    assert [one.seq for one in marked] == [1]
    assert {Beyond.NO_MIX.label, Beyond.UNPROTECTED.label} <= set(marked[0].beyond)


def text_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def lived(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Session:
    """From the first tap to the last; the gates are another room's matter."""
    monkeypatch.setattr("whitening.chairside.registries._gate_checks", [])
    monkeypatch.setattr("whitening.chairside.registries._on_closed", [])
    session = chairs.a_session(cast, sessions=1, teeth_left_out=["24"])
    minutes = chairs.played(cast, session)
    return close_session(
        session=session,
        client_id="5e4c8a1e-8c7e-4a57-9d8a-0a8f6a4f1b11",
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=chairs.minutes(minutes),
    )


@pytest.mark.django_db
class TestThePaper:
    def test_closing_makes_it_and_it_is_true_to_the_log(
        self,
        cast: Cast,
        monkeypatch: pytest.MonkeyPatch,
        django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
    ) -> None:
        with django_capture_on_commit_callbacks(execute=True):
            lived(cast, monkeypatch)
        paper = IssuedDocument.objects.get()
        pdf = archive.read(paper.sha256)
        assert (paper.kind, paper.is_clinical, paper.patient) == ("session_record", True, cast.patient)
        assert findings(pdf) == []
        text = text_of(pdf)
        for said in (
            "Session record, session 1",
            "(Europe/London)",
            "Cleo Haddad, Ari Zieliński",
            "6 % hydrogen peroxide as used (w/w)",
            "B-117, use until Wed 31 Mar 2027",
            "Light 1",
            "24, upper left first premolar",
            "provisional: teeth are dry",
            "version 1: 4 cycles of 15 min",
            "Nothing: no gel was taken off early",
            "Closed by the clinician: Cleo Haddad",
        ):
            assert said in text, said

    def test_the_same_one_until_the_log_grows(self, cast: Cast) -> None:
        Site.objects.update(country="US")
        session, later = afterwards.a_closed_session(cast), NOW + timedelta(hours=5)
        dentist, address = sign_in(cast.clinician), reverse("session_record", args=[session.pk])
        with time_machine.travel(later, tick=False):
            assert dentist.post(address, {"large": "1"})["Content-Type"] == "application/pdf"
            dentist.post(address, {"large": "1"})
        first = IssuedDocument.objects.get()
        assert (first.large_print, findings(archive.read(first.sha256))) == (True, [])
        words = {"kind": "words", "data": {"words": "Seen again at noon: all quiet."}, "client_id": "late"}
        at = {"happened_at": later, "recorded_at": later + timedelta(hours=1)}
        SessionEvent.objects.create(session=session, seq=1, actor_id="1", actor_name="Cleo Haddad", **words, **at)
        with time_machine.travel(later + timedelta(hours=2), tick=False):
            text = text_of(dentist.post(address, {"large": "1"}).content)
        assert "Seen again at noon: all quiet." in text
        assert IssuedDocument.objects.count() == 2

    def test_an_entry_of_a_later_day_names_its_day(self, cast: Cast) -> None:
        session = afterwards.a_closed_session(cast)
        for seq, at in enumerate((NOW - timedelta(minutes=5), NOW + timedelta(days=2, hours=1)), start=1):
            entry = {"kind": "words", "data": {"words": f"Blister {seq}."}, "client_id": f"late{seq}"}
            SessionEvent.objects.create(
                session=session, seq=seq, actor_id="1", actor_name="Cleo", happened_at=at, recorded_at=at, **entry
            )
        paper = record_paper(session, actor=actor_of(cast.clinician), now=NOW + timedelta(days=2, hours=2))
        listed, log = text_of(archive.read(paper.sha256)).split("Everything that was recorded")
        words = "Clinician's words “Blister"
        assert f"left out 08:55 {words} 1.”" in listed.replace("• ", "")
        assert f"Thu 5 Mar 2026, 10:00 {words} 2.”" in listed
        assert f"1 08:55 {words} 1.” Cleo 2 Thu 5 Mar 2026, 10:00 {words} 2.”" in log

    def test_before_the_session_is_closed_there_is_none(self, cast: Cast) -> None:
        session = chairs.a_session(cast)
        with nothing_written(), pytest.raises(SessionStillOpen):
            record_paper(session, actor=actor_of(cast.clinician), now=NOW)

    def test_who_may_not_read_answers_gets_none(self, cast: Cast) -> None:
        session = afterwards.a_closed_session(cast)
        where = reverse("case", args=[session.case_id])
        for person, listed in ((cast.hygienist, False), (cast.desk, False), (cast.clinician, True)):
            page = sign_in(person).get(where).content.decode()
            assert (reverse("session_record", args=[session.pk]) in page) is listed, person
        record_paper(session, actor=actor_of(cast.clinician), now=NOW + timedelta(minutes=1))
        page = sign_in(cast.clinician).get(where).content.decode()
        # It is among the papers now; to be made it is again once the log grows.
        assert reverse("session_record", args=[session.pk]) not in page
        assert "Session record, session 1" in page

    def test_closing_stands_when_drawing_fails(self, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
        def failing(_job: object) -> None:
            raise RenderFailed("busy")

        monkeypatch.setattr(POOL, "draw", failing)
        session, dentist = afterwards.a_closed_session(cast), sign_in(cast.clinician)
        with nothing_written():
            after_closing(session, actor=actor_of(cast.clinician), now=NOW)
            page = dentist.post(reverse("session_record", args=[session.pk]), follow=True)
        assert "could not be made (busy)" in page.content.decode()
