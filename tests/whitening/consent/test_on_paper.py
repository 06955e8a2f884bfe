"""A consent signed on paper: the form, the scan, two people, and then a consent like any other."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from clinic.documents import incoming, resting
from clinic.documents.failures import FileAltered
from clinic.documents.models import IncomingPaper, IssuedDocument
from tests.answer import Answer
from tests.cast import Cast, actor_of, sign_in
from tests.papers import a_pdf, a_picture, upload
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.consent import onpaper
from whitening.casebook.facts import Ask, facts_of_many
from whitening.cases.actions import CaseClosed, close_case
from whitening.cases.models import Case, CloseReason
from whitening.consent.actions import (
    CannotSign,
    CheckedAlready,
    PaperNotUsable,
    SamePerson,
    SayWhatDiffers,
    choose_photographs,
    print_form,
    withdraw,
)
from whitening.consent.models import PaperCheck, PaperReading, PhotoUse, Signature
from whitening.consent.reading import photo_choices, standing
from whitening.consent.seals import is_unaltered

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("quick_paper")]
PHOTOS = {"photo_record": "yes", "photo_teaching": "no", "photo_publication": "no", "photo_public": "no"}


@pytest.fixture(autouse=True)
def _at_signing(at_now: object) -> None:
    at_now.move_to(course.SIGNED_AT)  # type: ignore[attr-defined]  # the traveller of the fixture


@pytest.fixture
def case(cast: Cast) -> Case:
    return course.ready_to_sign(cast)


def address(case: Case) -> str:
    return reverse("consent_on_paper", args=[case.pk])


def write_down(client: Client, case: Case, **changed: str) -> Answer:
    form = IssuedDocument.objects.filter(kind="consent_form").first()
    fields = {
        "paper": str(IncomingPaper.objects.get().pk),
        "form": str(form.pk) if form else "blank",
        "is_whole": "on",
        "signer_name": "AMARA NWOSU",
        "signed_on": "3 3 2026",
    }
    return client.post(address(case), {name: value for name, value in (fields | PHOTOS | changed).items() if value})


def compare(client: Client, case: Case, **changed: str) -> Answer:
    reading = PaperReading.objects.latest("pk")
    sent = {"agrees": "yes", "words": ""} | changed
    return client.post(reverse("consent_paper_check", args=[case.pk, reading.pk]), sent)


def test_it_works(cast: Cast, case: Case) -> None:
    """Printed by the assistant, written down by the assistant, compared by the dentist, countersigned."""
    assistant, dentist = sign_in(cast.assistant), sign_in(cast.clinician)
    assert assistant.post(reverse("consent_print", args=[case.pk]))["Content-Type"] == "application/pdf"
    form = IssuedDocument.objects.get(kind="consent_form")
    paper = onpaper.scanned(cast, case, content=a_picture("JPEG"))
    page = assistant.get(address(case)).content.decode()
    assert f'<img src="{reverse("incoming_file", args=[paper.pk])}"' in page
    assert write_down(assistant, case)["Location"] == address(case)
    reading = PaperReading.objects.get()
    assert (reading.paper, reading.form, reading.read_by, reading.signed_on) == (
        paper, form, cast.assistant, onpaper.SIGNED_ON,
    )  # fmt: skip
    assert standing(case).signature is None
    assert "Somebody else has to compare it" in assistant.get(address(case)).content.decode()
    waits = "A signed paper is written down and waits for a second person."
    assert waits in dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert compare(dentist, case)["Location"] == reverse("consent", args=[case.pk])
    signature = Signature.objects.get()
    assert (signature.method, signature.signer_name, signature.document) == ("paper", "AMARA NWOSU", None)
    assert signature.text.sha256 == reading.text.sha256 == course.pen(case).seen_sha256
    assert is_unaltered(signature)
    held = standing(case)
    assert (held.signed_this_plan, held.signed_on) == (True, onpaper.SIGNED_ON)
    assert photo_choices(case)[PhotoUse.RECORD]
    page = dentist.get(reverse("consent", args=[case.pk])).content.decode()
    assert ("Ari Zieliński, Cleo Haddad" in page, waits in page) == (True, False)
    assert dentist.post(reverse("consent_countersign", args=[case.pk])).status_code == 302
    assert standing(case).agreed
    facts = facts_of_many([Ask(case_id=case.pk, day=course.SIGNED_AT.date(), carried_out_by=None)])[0]
    assert (facts.signed_this_plan, facts.countersigned, facts.consent_holds) == (True, True, True)


def test_the_same_person_twice(cast: Cast, case: Case) -> None:
    reading = onpaper.written_down(cast, case)
    assert resting.on(reading.paper)
    assistant = sign_in(cast.assistant)
    with nothing_written():
        answer = compare(assistant, case)
    assert (answer.status_code, "Somebody else has to look at it now." in answer.content.decode()) == (409, True)
    with nothing_written(), pytest.raises(SamePerson):
        onpaper.compared(cast, reading, user=cast.assistant)
    fields: dict[str, Any] = {"agrees": True, "checked_at": course.SIGNED_AT, "read_by": cast.assistant}
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        PaperCheck.objects.create(reading=reading, checked_by=cast.assistant, **fields)


def test_the_second_reader_opens_the_form_as_it_was_printed(cast: Cast, case: Case) -> None:
    """Whoever may read the consent may read its paper, also without the right to the health answers."""
    onpaper.written_down(cast, case, by=cast.clinician)
    form = IssuedDocument.objects.get(kind="consent_form")
    opened = reverse("document_file", args=[form.pk])
    cast.assistant.may_see_clinical_answers = False
    cast.assistant.save()
    assistant = sign_in(cast.assistant)
    assert opened in assistant.get(address(case)).content.decode()
    assert assistant.get(opened)["Content-Type"] == "application/pdf"
    assert opened in assistant.get(reverse("case", args=[case.pk])).content.decode()
    assert sign_in(cast.desk).get(opened).status_code == 403


def test_a_no_says_what_differs_and_it_is_written_down_anew(cast: Cast, case: Case) -> None:
    reading = onpaper.written_down(cast, case)
    dentist = sign_in(cast.clinician)
    with nothing_written():
        assert compare(dentist, case, agrees="no").status_code == 422
        assert compare(dentist, case, agrees="").status_code == 422
    with nothing_written(), pytest.raises(SayWhatDiffers):
        onpaper.compared(cast, reading, agrees=False)
    assert compare(dentist, case, agrees="no", words="The day is the 2nd.")["Location"] == address(case)
    assert (PaperCheck.objects.get().agrees, Signature.objects.exists()) == (False, False)
    with nothing_written(), pytest.raises(CheckedAlready):
        onpaper.compared(cast, reading)
    again = onpaper.written_down(cast, case, paper=reading.paper, by=cast.clinician)
    assert onpaper.compared(cast, again, user=cast.assistant) is not None


@pytest.mark.parametrize(("changed", "words"), [
    ({"signed_on": date(2026, 3, 4)}, "lies ahead"),
    ({"signed_on": date(2026, 3, 2)}, "signed before the talk"),
    ({"is_whole": False}, "lacks a page"),
    ({"photographs": {PhotoUse.RECORD: True}}, "yes or no for each use"),
])  # fmt: skip
def test_what_cannot_stand_on_the_paper(cast: Cast, case: Case, changed: dict[str, Any], words: str) -> None:
    paper, form = onpaper.scanned(cast, case), onpaper.printed(cast, case)
    with nothing_written(), pytest.raises(PaperNotUsable, match=words):
        onpaper.written_down(cast, case, paper=paper, what=onpaper.said(form, **changed))


def test_what_was_not_written_down(cast: Cast, case: Case) -> None:
    onpaper.scanned(cast, case)
    onpaper.printed(cast, case)
    assistant = sign_in(cast.assistant)
    with nothing_written():
        for missing in ("paper", "form", "is_whole", "signer_name", "signed_on", "photo_public"):
            assert write_down(assistant, case, **{missing: ""}).status_code == 422, missing


def test_papers_that_cannot_be_used(cast: Cast, case: Case) -> None:
    form, letter = onpaper.printed(cast, case), onpaper.scanned(cast, case, kind="letter", sender="Dr Aumann")
    waiting = onpaper.scanned(cast, case, content=a_pdf(2))
    damaged = onpaper.scanned(cast, case, content=a_pdf(3))
    with nothing_written(), pytest.raises(PaperNotUsable, match="as a consent signed on paper"):
        onpaper.written_down(cast, case, paper=letter, what=onpaper.said(form))
    reading = onpaper.written_down(cast, case, paper=waiting, what=onpaper.said(form))
    with nothing_written(), pytest.raises(PaperNotUsable, match="waits for a second person"):
        onpaper.written_down(cast, case, paper=waiting, what=onpaper.said(form))
    path = incoming.path_of(damaged.sha256, damaged.media_type)
    path.write_bytes(path.read_bytes() + b" ")
    with nothing_written(), pytest.raises(FileAltered):
        onpaper.written_down(cast, case, paper=damaged, what=onpaper.said(form))
    path = incoming.path_of(waiting.sha256, waiting.media_type)
    path.write_bytes(path.read_bytes() + b" ")
    with nothing_written(), pytest.raises(FileAltered):
        onpaper.compared(cast, reading)
    path.write_bytes(a_pdf(2))
    assert onpaper.compared(cast, reading) is not None
    with nothing_written(), pytest.raises(PaperNotUsable, match="counts as a consent already"):
        onpaper.written_down(cast, case, paper=waiting, what=onpaper.said(form))


def test_a_plan_that_changed_since_the_form_was_printed(cast: Cast, case: Case) -> None:
    form, paper = onpaper.printed(cast, case), onpaper.scanned(cast, case)
    reading = onpaper.written_down(cast, case, paper=paper, what=onpaper.said(form))
    course.planned(cast, case, cycles_per_session=5)
    with nothing_written(), pytest.raises(PaperNotUsable, match="plan has changed since this form was printed"):
        onpaper.compared(cast, reading)
    course.talked(cast, case, now=course.SIGNED_AT)
    other = onpaper.scanned(cast, case, content=a_pdf(2))
    with nothing_written(), pytest.raises(PaperNotUsable, match="plan has changed since this form was printed"):
        onpaper.written_down(cast, case, paper=other, what=onpaper.said(form))


def test_a_talk_after_the_form_was_printed(cast: Cast, case: Case) -> None:
    form, paper = onpaper.printed(cast, case), onpaper.scanned(cast, case)
    course.talked(cast, case, now=course.SIGNED_AT + timedelta(minutes=1))
    with nothing_written(), pytest.raises(PaperNotUsable, match="talked through again after this form was printed"):
        onpaper.written_down(cast, case, paper=paper, what=onpaper.said(form))


def test_changed_after_it_counted(cast: Cast, case: Case) -> None:
    """Withdrawal and a change of plan end it like any other."""
    onpaper.signed(cast, case)
    course.countersigned(cast, case)
    course.planned(cast, case, cycles_per_session=5)
    assert [str(one) for one in standing(case).changed] == ["more cycles or sessions than agreed"]
    withdraw(case=case, words="", actor=actor_of(cast.desk), now=course.SIGNED_AT)
    held = standing(case)
    assert (held.agreed, held.withdrawal is not None) == (False, True)


def test_a_withdrawn_one_needs_a_talk_of_its_own(cast: Cast, case: Case) -> None:
    onpaper.signed(cast, case)
    withdraw(case=case, words="", actor=actor_of(cast.desk), now=course.SIGNED_AT)
    again = onpaper.scanned(cast, case, content=a_pdf(2))
    form = IssuedDocument.objects.get(kind="consent_form")
    with nothing_written(), pytest.raises(PaperNotUsable, match="You withdrew your consent"):
        onpaper.written_down(cast, case, paper=again, what=onpaper.said(form))


def test_what_the_patient_chose_since_on_the_phone_holds(cast: Cast, case: Case) -> None:
    reading = onpaper.written_down(cast, case)
    choose_photographs(case=case, choices={PhotoUse.RECORD: False}, actor=course.themselves(cast), now=course.SIGNED_AT)
    onpaper.compared(cast, reading)
    assert photo_choices(case)[PhotoUse.RECORD] is False


def test_another_name_than_the_patients(cast: Cast, case: Case) -> None:
    """Nobody's consent by a slip: it is shown to both, and the first one says why it is hers all the same."""
    form, paper = onpaper.printed(cast, case), onpaper.scanned(cast, case)
    for words in ("", "  "):
        said = onpaper.said(form, signer_name="CLEO HADDAD", name_words=words)
        with nothing_written(), pytest.raises(PaperNotUsable, match="beside the signature is not Amara Nwosu"):
            onpaper.written_down(cast, case, paper=paper, what=said)
    assistant = sign_in(cast.assistant)
    with nothing_written():
        assert write_down(assistant, case, signer_name="AMARA OBI").status_code == 422
    assert write_down(assistant, case, signer_name="AMARA OBI", name_words="Name before marriage").status_code == 302
    page = " ".join(sign_in(cast.clinician).get(address(case)).content.decode().split())
    assert "AMARA OBI <strong>not Amara Nwosu</strong>: Name before marriage" in page
    row = onpaper.compared(cast, PaperReading.objects.get())
    assert row is not None
    assert (row.signer_name, is_unaltered(row)) == ("AMARA OBI", True)
    assert row.reading is not None
    row.reading.name_words = "Her own"
    assert not is_unaltered(row)


@pytest.mark.parametrize("name", ["NWOSU, AMARA", "amara  nwosu", "Amára Nwosu"])
def test_the_same_name_written_otherwise(cast: Cast, case: Case, name: str) -> None:
    said = onpaper.said(onpaper.printed(cast, case), signer_name=name, name_words="not needed")
    assert onpaper.written_down(cast, case, what=said).name_words == ""


def test_a_scan_filed_on_the_patients_page(cast: Cast, case: Case) -> None:
    """It is about no case until somebody writes down of which one it is."""
    paper = onpaper.scanned(cast, case, subject_kind="", subject_id="")
    onpaper.printed(cast, case)
    assistant = sign_in(cast.assistant)
    assert reverse("incoming_file", args=[paper.pk]) in assistant.get(address(case)).content.decode()
    assert write_down(assistant, case).status_code == 302
    onpaper.compared(cast, PaperReading.objects.get())
    assert standing(case).signed_this_plan


def test_a_letter_filed_as_a_consent_is_read_first_by_whoever_may_read_letters(cast: Cast, case: Case) -> None:
    form, paper = onpaper.printed(cast, case), onpaper.scanned(cast, case, filed_by=cast.desk)
    scan = reverse("incoming_file", args=[paper.pk])
    assistant = sign_in(cast.assistant)
    page = assistant.get(address(case)).content.decode()
    assert (scan in page, "1 scan was filed by somebody else." in page) == (False, True)
    assert assistant.get(scan).status_code == 403
    with nothing_written(), pytest.raises(PaperNotUsable, match="You may not open this paper"):
        onpaper.written_down(cast, case, paper=paper, what=onpaper.said(form))
    onpaper.written_down(cast, case, paper=paper, what=onpaper.said(form), by=cast.clinician)
    assert scan in assistant.get(address(case)).content.decode()
    assert assistant.get(scan).status_code == 200


def test_a_scan_about_another_case(cast: Cast, case: Case) -> None:
    form, paper = onpaper.printed(cast, case), onpaper.scanned(cast, case, subject_id="987654")
    assert reverse("incoming_file", args=[paper.pk]) not in sign_in(cast.assistant).get(address(case)).content.decode()
    with nothing_written(), pytest.raises(PaperNotUsable, match="about another case"):
        onpaper.written_down(cast, case, paper=paper, what=onpaper.said(form))


def test_a_blank_form_filled_in_by_hand(cast: Cast, case: Case) -> None:
    desk = sign_in(cast.desk)
    with nothing_written(leave_out=("access_entry", "trail_entry")):
        answer = desk.post(reverse("consent_blank"))
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    # Beside the other papers for a day without the program.
    address = reverse("diary_paper", args=["2026-03-04", "consent"])
    assert f'action="{address}"' in desk.get(reverse("diary_day", args=["2026-03-04"])).content.decode()
    assert desk.post(address)["Content-Type"] == "application/pdf"
    reading = onpaper.written_down(cast, case, what=onpaper.said(None))
    signature = onpaper.compared(cast, reading)
    assert signature is not None
    assert (signature.text.sha256, standing(case).signed_this_plan) == (course.pen(case).seen_sha256, True)


def test_nothing_to_print_yet(cast: Cast, case: Case) -> None:
    course.signed(cast, case)
    assistant = sign_in(cast.assistant)
    with nothing_written():
        assert assistant.post(reverse("consent_print", args=[case.pk])).status_code == 409
    with nothing_written(), pytest.raises(CannotSign, match="signed already"):
        onpaper.printed(cast, case)


def test_printed_once_for_the_same_words(cast: Cast, case: Case) -> None:
    one = onpaper.printed(cast, case)
    assert onpaper.printed(cast, case) == one
    large = print_form(
        case=case, user=cast.assistant, actor=actor_of(cast.assistant), now=course.SIGNED_AT, is_large=True
    )
    assert (large == one, large.subject_id) == (False, one.subject_id)


def test_a_closed_case(cast: Cast, case: Case) -> None:
    reading = onpaper.written_down(cast, case)
    close_case(case=case, reason=CloseReason.PATIENT_ENDED, words="", actor=actor_of(cast.desk), now=course.SIGNED_AT)
    with nothing_written(), pytest.raises(CaseClosed):
        onpaper.compared(cast, reading)


def test_the_patients_own_copy_is_the_scan(cast: Cast, case: Case) -> None:
    phone = course.phone_of(cast, course.visit_of(cast, case))
    signature = onpaper.signed(cast, case)
    assert signature.reading is not None
    answer = phone.get("/p/consent-paper/")
    assert (answer.status_code, answer.content) == (200, incoming.read(signature.reading.paper))
    assert answer["Content-Disposition"].startswith("attachment")
    assert "by hand on paper" in phone.get("/p/sign/").content.decode()


def test_what_the_public_check_says(cast: Cast, case: Case) -> None:
    """Of the form: as printed, unsigned. Of the scan: filed here, and not whether it still holds."""
    client, form = Client(), onpaper.printed(cast, case)
    page = client.post("/verify/", {"code": form.verify_code}).content.decode()
    assert "Consent form as printed, before anybody signed it" in page
    onpaper.signed(cast, case)
    scan = a_pdf()
    page = client.post("/verify/", {"code": form.verify_code, "file": upload(scan)}).content.decode()
    assert "Filed here: a signed paper that came back" in page
    assert ("Genuine" in page, cast.patient.name in page) == (False, False)
    page = client.post("/verify/", {"code": "", "file": upload(scan + b" ")}).content.decode()
    assert "Unknown: no such sheet was issued here" in page
