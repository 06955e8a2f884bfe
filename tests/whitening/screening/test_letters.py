"""Asking a doctor in writing about a finding; the answer that comes in; the decision that rests on it."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from clinic.documents import filing, resting
from clinic.documents.models import IncomingPaper, IssuedDocument, PaperKind
from clinic.documents.sections import readable
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.papers import a_pdf, filed, look_here, upload
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.consent.seed import case_of, patient_of
from whitening.cases.actions import CaseClosed, close_case
from whitening.cases.models import Case, CloseReason
from whitening.screening.actions import (
    LetterDetails,
    NoLetterHere,
    NoReply,
    PaperNotRead,
    PatientNotAsked,
    ReplyTooOld,
    attach_reply,
    decide,
    write_letter,
)
from whitening.screening.decisions import DecisionKind
from whitening.screening.models import Decision, Letter, LetterReply
from whitening.screening.outcome import State
from whitening.screening.reading import outcome_of
from whitening.screening.rulebook import rules

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now", "quick_paper")]
ASKED = "LGT-02"


@pytest.fixture
def case(cast: Cast) -> Case:
    case = chairs.a_case(cast)
    course.answered(cast, case, porphyria="yes", reacted_to_resin="yes")
    return case


def letter(**changed: Any) -> LetterDetails:
    fields: dict[str, Any] = {
        "rule": ASKED,
        "addressee": "Dr Ilse Aumann\nSkin Clinic, Fernbrook",
        "question": "May blue light come near her gums?",
        "planned": "Whitening without a light.",
        "patient_agrees": True,
    }
    return LetterDetails(**fields | changed)


def wrote(cast: Cast, case: Case, **changed: Any) -> Letter:
    return write_letter(
        case=case, details=letter(**changed), user=cast.clinician, actor=actor_of(cast.clinician), now=NOW
    )


def page(client: Client, case: Case) -> str:
    return " ".join(client.get(reverse("assessment", args=[case.pk])).content.decode().split())


def send(client: Client, case: Case, **changed: str) -> Answer:
    fields = {
        "rule": ASKED,
        "addressee": "Dr Ilse Aumann\nSkin Clinic, Fernbrook",
        "question": "May blue light come near her gums?",
        "planned": "Whitening without a light.",
        "patient_agrees": "on",
    }
    sent = {name: value for name, value in (fields | changed).items() if value}
    return client.post(reverse("letter", args=[case.pk]), sent)


def basis(case: Case) -> str:
    finding = outcome_of(case, today=NOW.date()).finding(ASKED)
    assert finding is not None
    return finding.basis


def examined(cast: Cast, case: Case, paper: IncomingPaper | None, **changed: Any) -> Decision:
    fields: dict[str, Any] = {
        "kind": DecisionKind.EXAMINED,
        "reason": "The dermatologist sees no porphyria.",
        "evidence": "",
        "user": cast.clinician,
        "basis": basis(case),
    }
    return decide(case=case, rule=ASKED, paper=paper, actor=actor_of(cast.clinician), now=NOW, **fields | changed)


def test_it_works(cast: Cast, case: Case) -> None:
    dentist = sign_in(cast.clinician)
    shown = page(dentist, case)
    # Filled in from the rule and the plan, and only under what an answer in writing can end.
    assert "a specialist&#x27;s written plan" in shown
    assert 'id="letter_LGT-02_question"' in shown
    assert 'id="letter_ALG-01_question"' not in shown
    assert send(dentist, case)["Location"] == reverse("assessment", args=[case.pk])
    row = Letter.objects.select_related("document").get()
    assert (row.rule, row.written_by, row.addressed_to) == (ASKED, cast.clinician, "Dr Ilse Aumann")
    assert (row.document.kind, row.document.patient, row.document.language) == ("doctor_letter", cast.patient, "en")
    assert not readable(row.document, cast.desk)
    shown = page(dentist, case)
    assert reverse("document_file", args=[row.document_id]) in shown
    assert "No answer is filed yet." in shown


def test_the_answer_clears_the_finding(cast: Cast, case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    """Filed by whoever opens the post, matched to the letter, read and decided about by the dentist."""
    look_here(monkeypatch)
    asked = wrote(cast, case)
    dentist, papers = sign_in(cast.clinician), reverse("case_papers", args=[case.pk])
    fields = {"kind": "letter", "sender": "Dr Ilse Aumann", "dated_on": "3 3 2026", "received_on": "3 3 2026"}
    sent = fields | {"answers": str(asked.pk), "file": upload(a_pdf())}
    assert dentist.post(papers, sent)["Location"] == reverse("case", args=[case.pk])
    paper = IncomingPaper.objects.get()
    assert (paper.subject_kind, paper.subject_id, asked.replies.get().paper) == ("case", str(case.pk), paper)
    assert "Answer:" in page(dentist, case)
    assert resting.on(paper)
    said = {"rule": ASKED, "basis": basis(case), "kind": "examined", "reason": "No porphyria.", "paper": paper.pk}
    assert dentist.post(reverse("decision", args=[case.pk]), said).status_code == 302
    row = Decision.objects.get()
    assert (row.paper, row.decided_by) == (paper, cast.clinician)
    assert row.evidence == "Letter of a doctor or specialist, Dr Ilse Aumann, dated Tue 3 Mar 2026"
    finding = outcome_of(case, today=NOW.date()).finding(ASKED)
    assert finding is not None
    assert finding.state is State.EXAMINED
    assert f'<a href="{reverse("incoming_file", args=[paper.pk])}">The paper that was read</a>' in page(dentist, case)


def test_the_desk_files_without_learning_to_whom_was_written(
    cast: Cast, case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    look_here(monkeypatch)
    asked = wrote(cast, case)
    desk, papers = sign_in(cast.desk), reverse("case_papers", args=[case.pk])
    assert "Aumann" not in desk.get(papers).content.decode()
    fields = {"kind": "letter", "sender": "Dr Ilse Aumann", "dated_on": "3 3 2026", "received_on": "3 3 2026"}
    assert desk.post(papers, fields | {"file": upload(a_pdf())}).status_code == 302
    assert LetterReply.objects.count() == 0
    # Deciding with it says which letter it answers.
    examined(cast, case, IncomingPaper.objects.get())
    assert asked.replies.get().attached_by == cast.clinician


@pytest.mark.parametrize(("changed", "words"), [
    ({"addressee": ""}, "Write to whom the letter goes."),
    ({"question": ""}, "Write what you want to know."),
    ({"planned": ""}, "Write what is planned"),
    ({"patient_agrees": ""}, "Ask the patient first"),
])  # fmt: skip
def test_what_is_missing(cast: Cast, case: Case, changed: dict[str, str], words: str) -> None:
    dentist = sign_in(cast.clinician)
    with nothing_written():
        answer = send(dentist, case, **changed)
    shown = answer.content.decode()
    assert (answer.status_code, words in shown) == (422, True)
    assert changed == {"question": ""} or "May blue light come near her gums?" in shown


@pytest.mark.parametrize("rule", ["ALG-01", "LGT-03", "LAW-03", "XXX-99"])
def test_a_finding_that_no_letter_ends(cast: Cast, case: Case, rule: str) -> None:
    """Not found here, or of a kind that no answer in writing ends."""
    dentist = sign_in(cast.clinician)
    with nothing_written():
        assert send(dentist, case, rule=rule).status_code == 409
    with nothing_written(), pytest.raises(NoLetterHere):
        wrote(cast, case, rule=rule)


def test_refused_by_the_action_too(cast: Cast, case: Case) -> None:
    with nothing_written(), pytest.raises(PatientNotAsked):
        wrote(cast, case, patient_agrees=False)
    close_case(case=case, reason=CloseReason.PATIENT_ENDED, words="", actor=actor_of(cast.desk), now=NOW)
    with nothing_written(), pytest.raises(CaseClosed):
        wrote(cast, case)


@pytest.mark.parametrize("who", ["desk", "assistant", "hygienist", "manager"])
def test_wrong_role(cast: Cast, case: Case, who: str) -> None:
    client = sign_in(getattr(cast, who))
    with nothing_written():
        assert send(client, case).status_code == 403


def test_papers_that_are_no_evidence(cast: Cast, case: Case) -> None:
    stranger = patient_of(cast, "Marek Dvořák", NOW)
    theirs = filed(stranger, cast.desk, content=a_pdf(2))
    undated = filed(cast.patient, cast.desk, kind=PaperKind.OTHER, dated_on=None)
    for paper, words in ((theirs, "belongs to somebody else"), (undated, "bears no date")):
        with nothing_written(), pytest.raises(PaperNotRead, match=words):
            examined(cast, case, paper)
    mine = filed(cast.patient, cast.desk, content=a_pdf(3))
    cast.clinician.may_see_clinical_answers = False
    cast.clinician.save()
    with nothing_written(), pytest.raises(PaperNotRead, match="may not open"):
        examined(cast, case, mine)


def test_one_paper_answers_one_letter(cast: Cast, case: Case) -> None:
    first, second = wrote(cast, case), wrote(cast, case, question="And the chair light?")
    paper, consent = filed(cast.patient, cast.desk), filed(cast.patient, cast.desk, content=a_pdf(2), kind="consent")
    other = case_of(cast, patient_of(cast, "Marek Dvořák", NOW), NOW)
    theirs = filed(other.patient, cast.desk, content=a_pdf(4))
    actor: dict[str, Any] = {"user": cast.desk, "actor": actor_of(cast.desk), "now": NOW}
    attach_reply(letter=first, paper=paper, **actor)
    for wrong in (paper, consent, theirs):
        with nothing_written(), pytest.raises(NoReply):
            attach_reply(letter=second, paper=wrong, **actor)


def test_a_decision_that_was_made_meanwhile_ends_the_asking(cast: Cast, case: Case) -> None:
    examined(cast, case, None, evidence="letter of 27 Feb 2026")
    with nothing_written(), pytest.raises(NoLetterHere):
        write_letter(
            case=case,
            details=letter(),
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=NOW + timedelta(minutes=1),
        )


def test_each_such_rule_is_a_dentists() -> None:
    asked = {code for code, one in rules().items() if one.clears.by_letter}
    assert asked == {
        "MUC-02", "MUC-03", "LGT-01", "LGT-02", "LGT-03", "LGT-04", "LGT-08",
        "STN-03", "MET-01", "MET-02", "MET-04", "ALG-01", "ALG-02", "EPI-01",
    }  # fmt: skip
    assert IssuedDocument.objects.count() == 0


def noted_as_mistake(cast: Cast, paper: IncomingPaper) -> IncomingPaper:
    """As a page read it just before."""
    before = IncomingPaper.objects.select_related("site", "mistake").get(pk=paper.pk)
    filing.note_mistake(paper=paper, why="another patient's", user=cast.desk, actor=actor_of(cast.desk), now=NOW)
    return before


def test_a_paper_noted_as_a_mistake_meanwhile_is_no_evidence(cast: Cast, case: Case) -> None:
    paper = noted_as_mistake(cast, filed(case.patient, cast.desk, subject_kind="case", subject_id=str(case.pk)))
    with nothing_written(), pytest.raises(filing.NotedAsMistake):
        examined(cast, case, paper)


def test_a_paper_noted_as_a_mistake_answers_no_letter(cast: Cast, case: Case) -> None:
    asked = wrote(cast, case)
    paper = noted_as_mistake(cast, filed(case.patient, cast.desk, subject_kind="case", subject_id=str(case.pk)))
    with nothing_written(), pytest.raises(filing.NotedAsMistake):
        attach_reply(letter=asked, paper=paper, user=cast.desk, actor=actor_of(cast.desk), now=NOW)


@pytest.mark.parametrize("dated_on", [date(2009, 5, 1), date(2026, 3, 2)])
def test_what_is_dated_before_our_letter_answers_it_not(cast: Cast, case: Case, dated_on: date) -> None:
    asked = wrote(cast, case)
    old = filed(cast.patient, cast.desk, dated_on=dated_on)
    with nothing_written(), pytest.raises(ReplyTooOld, match="dated before our letter"):
        attach_reply(letter=asked, paper=old, user=cast.desk, actor=actor_of(cast.desk), now=NOW)
    # It may still be what a dentist decides with; then no letter of ours counts as answered.
    examined(cast, case, old)
    assert not LetterReply.objects.exists()


@pytest.mark.parametrize(("changed", "why"), [
    ({"kind": PaperKind.CONSENT, "sender": ""}, "no evidence"),
    ({"subject_kind": "case", "subject_id": "987654"}, "another case"),
])  # fmt: skip
def test_what_is_no_evidence_of_this_case(cast: Cast, case: Case, changed: dict[str, Any], why: str) -> None:
    paper = filed(cast.patient, cast.desk, **changed)
    with nothing_written(), pytest.raises(PaperNotRead, match=why):
        examined(cast, case, paper)
