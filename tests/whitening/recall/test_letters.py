"""Letters to the patient: the result, by one method and with its limits, and the dental check that offers nothing."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest
import time_machine
from django.core import mail
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import translation
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.documents import archive
from clinic.documents.models import IssuedDocument
from clinic.messages import kinds, links, purposes, visits
from clinic.messages.models import DueMessage, State
from clinic.messages.sweep import sweep
from clinic.messages.words import clinical_words
from clinic.patients.actions import choose_contact
from clinic.patients.models import Patient, Purpose
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.pdf import findings
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from tests.whitening.recall import afterwards, reviews
from tests.whitening.recall.test_closing import on_the_tablet
from whitening.cases.actions import add_visit, close_case, read_shade
from whitening.cases.models import Case, CloseReason, Moment, VisitPurpose
from whitening.chairside.models import Session
from whitening.recall import check_letter, result_letter, result_link
from whitening.recall.actions import ReviewDetails, record_review
from whitening.recall.models import Review, ReviewDecision, Satisfaction
from whitening.recall.result_facts import Change, ResultFacts, result_facts
from whitening.shade.tabs import CLASSICAL_16

MONTH_ON = NOW + timedelta(days=30)
# What the letter about a check must never speak of.
OFFERS = ("whiten", "bleach", "lighter", "shade", "colour", "gel", "top-up", "course")


@dataclass(frozen=True)
class Reading:
    moment: str
    tab: str
    read_by: str = "Cleo Haddad"
    guide: str = CLASSICAL_16.code
    read_at: datetime = NOW
    session_number: int | None = None

    @property
    def provisional(self) -> bool:
        return self.moment == Moment.FINISH


def read(*readings: Reading) -> ResultFacts:
    return result_facts(readings, CLASSICAL_16)


START, DRY, REVIEW = Reading("start", "A3"), Reading("finish", "B1"), Reading("review", "A1")


def test_the_result_is_before_the_first_session_against_the_review() -> None:
    facts = read(START, DRY, Reading("start", "D2"), DRY, REVIEW)
    assert (facts.change, facts.steps) == (Change.LIGHTER, 7)
    assert (facts.before, facts.after, len(facts.ladder.points)) == (START, REVIEW, 5)


@pytest.mark.parametrize("readings", [(), (START,), (START, DRY), (START, DRY, Reading("start", "D2"), DRY), (REVIEW,)])
def test_without_both_there_is_no_result(readings: tuple[Reading, ...]) -> None:
    """A reading on dry teeth never is one, however much lighter."""
    assert (read(*readings).change, read(*readings).steps) == (Change.OPEN, 0)


def test_same_and_darker_are_said_as_they_are() -> None:
    assert read(START, Reading("review", "A3")).change is Change.SAME
    darker = read(START, Reading("review", "C4"))
    assert (darker.change, darker.steps) == (Change.DARKER, 7)


def test_the_examination_stands_in_where_no_start_was_read() -> None:
    assert read(Reading("examination", "A2"), REVIEW).steps == 3
    assert read(Reading("examination", "A2"), START, REVIEW).steps == 7


def test_what_was_read_before_a_later_session_is_no_beginning() -> None:
    later = Reading("start", "D2", session_number=2)
    assert read(Reading("start", "A3", session_number=1), later, REVIEW).steps == 7
    assert read(later, REVIEW).change is Change.OPEN


def test_another_guide_is_never_compared() -> None:
    facts = read(Reading("start", "0M3", guide="other"), START, REVIEW)
    assert (facts.steps, facts.left_out) == (7, 1)


def test_what_makes_it_less_sure_is_known() -> None:
    assert not read(START, REVIEW).has_other_eyes
    assert read(START, Reading("review", "A1", read_by="Hugo Weber")).has_other_eyes
    assert not read(START).has_other_eyes
    assert (read(START, REVIEW).has_dry, read(START, DRY).has_dry) == (False, True)
    assert (read(START).began_lightest, read(Reading("start", "B1")).began_lightest) == (False, True)


@pytest.fixture
def session(cast: Cast) -> Session:
    session = afterwards.a_closed_session(cast)
    for moment, tab in ((Moment.START, "A3"), (Moment.FINISH, "B1")):
        read_shade(case=session.case, moment=moment, tab=tab, actor=actor_of(cast.clinician), now=NOW)
    Patient.objects.filter(pk=cast.patient.pk).update(address="2 Mill Lane\nFernbrook")
    return session


def reviewed(cast: Cast, session: Session, decision: ReviewDecision = ReviewDecision.FINISHED) -> Case:
    details = ReviewDetails(
        tab="A1", sensitivity=0, satisfaction=Satisfaction.HAPPY, gums_quiet=True, decision=decision
    )
    record_review(case=session.case, details=details, user=cast.clinician, actor=actor_of(cast.clinician), now=MONTH_ON)
    return Case.objects.select_related("site", "patient").get(pk=session.case_id)


def words_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


@pytest.mark.django_db
class TestTheResult:
    def test_right_after_a_session_there_is_nothing_to_compare(self, cast: Cast, session: Session) -> None:
        desk, address = sign_in(cast.desk), reverse("result_letter", args=[session.case_id])
        with time_machine.travel(NOW, tick=False):
            assert address in desk.get(reverse("case", args=[session.case_id])).content.decode()
            page = desk.post(address)
        text = words_of(page.content)
        assert (page["Content-Type"], findings(page.content)) == ("application/pdf", [])
        for said in ("There is no result to compare yet.", "teeth dry: no result", "2 Mill Lane", "your month review"):
            assert said in text, said
        assert "lighter on the shade guide" not in text

    @pytest.mark.parametrize("decision", list(ReviewDecision))
    def test_after_the_review_it_says_how_many_steps(
        self, cast: Cast, session: Session, decision: ReviewDecision
    ) -> None:
        Site.objects.update(country="US")
        case = reviewed(cast, session, decision)
        text = words_of(archive.read(self.made(cast, case).sha256))
        assert "Your teeth are 7 steps lighter on the shade guide." in text
        assert "Before: A3, read Tue 3 Mar 2026. At the review: A1, read Thu 2 Apr 2026." in text
        assert ("they can be made now" in text) is (decision == ReviewDecision.RESTORE)
        assert ("begins with a new examination" in text) is (decision == ReviewDecision.TOP_UP)
        assert ("nothing more is planned" in text) is (decision == ReviewDecision.FINISHED)

    def made(self, cast: Cast, case: Case, **more: object) -> IssuedDocument:
        return result_letter.letter_of(case, actor=actor_of(cast.desk), now=MONTH_ON, **more)  # type: ignore[arg-type]

    def test_in_large_print(self, cast: Cast, session: Session) -> None:
        Site.objects.update(country="US")
        case = reviewed(cast, session)
        large = self.made(cast, case, is_large=True)
        assert (large.large_print, findings(archive.read(large.sha256))) == (True, [])
        # The same day, the same letter.
        assert self.made(cast, case, is_large=True) == large
        assert self.made(cast, case) != large

    def test_in_large_print_the_first_page_is_filled(self, cast: Cast, session: Session) -> None:
        """The ladder is too high for what is left of it: what was read in words stands there, the ladder overleaf."""
        large = self.made(cast, reviewed(cast, session), is_large=True)
        first = " ".join(PdfReader(BytesIO(archive.read(large.sha256))).pages[0].extract_text().split())
        for said in ("What was read", "No. When Tab", "1 Tue 3 Mar 2026", "2 Tue 3 Mar 2026", "3 Thu 2 Apr 2026"):
            assert said in first, said

    def test_made_anew_once_it_would_say_something_else(self, cast: Cast, session: Session) -> None:
        """Of the same day, after the case was closed: nothing is announced that will not be."""
        case, desk = session.case, actor_of(cast.desk)
        first = result_letter.letter_of(case, actor=desk, now=NOW)
        with nothing_written():
            assert result_letter.letter_of(case, actor=desk, now=NOW + timedelta(minutes=1)) == first
        close_case(case=case, reason=CloseReason.PATIENT_ENDED, words="", actor=desk, now=NOW + timedelta(minutes=2))
        case.refresh_from_db()
        assert result_letter.issued(case, now=NOW + timedelta(minutes=3)) is None
        again = result_letter.letter_of(case, actor=desk, now=NOW + timedelta(minutes=3))
        said = [words_of(archive.read(letter.sha256)) for letter in (first, again)]
        assert ["your month review" in text for text in said] == [True, False]

    def test_made_anew_once_the_review_is_booked(self, cast: Cast, session: Session) -> None:
        reviews.surgery(cast)
        desk = actor_of(cast.desk)
        first = result_letter.letter_of(session.case, actor=desk, now=NOW)
        booking = reviews.booked(cast, datetime(2026, 4, 2, 9, 0, tzinfo=UTC))
        with transaction.atomic():
            add_visit(case=session.case, booking=booking, purpose=VisitPurpose.REVIEW, actor=desk)
        again = result_letter.letter_of(session.case, actor=desk, now=NOW + timedelta(minutes=2))
        assert again != first
        assert "2 Apr 2026" in words_of(archive.read(again.sha256))

    def test_a_review_without_a_beginning_compares_nothing(self, cast: Cast) -> None:
        case = reviewed(cast, afterwards.a_closed_session(cast))
        text = words_of(archive.read(self.made(cast, case).sha256))
        assert "No shade was read in this way before your first session." in text
        assert "a month after your last session" not in text

    def test_without_a_session_there_is_nothing_to_write(self, cast: Cast) -> None:
        case, desk = chairs.a_case(cast), sign_in(cast.desk)
        with nothing_written():
            page = desk.post(reverse("result_letter", args=[case.pk]), follow=True)
        assert "there is nothing to write about a result" in page.content.decode()

    def test_the_patient_makes_it_by_a_press(self, cast: Cast, session: Session, phone: Client) -> None:
        with time_machine.travel(NOW, tick=False):
            page = on_the_tablet(cast, session, phone)
            assert reverse("result_so_far") in page.get("/p/how/").content.decode()
            before = page.get("/p/how/result/")
            assert "Make the letter (PDF)" in before.content.decode()
            assert not IssuedDocument.objects.filter(kind="result_letter").exists()
            assert page.post("/p/how/result/")["Content-Type"] == "application/pdf"
            # From then on looking is enough.
            assert page.get("/p/how/result/")["Content-Type"] == "application/pdf"
        assert IssuedDocument.objects.filter(kind="result_letter").count() == 1


@pytest.mark.django_db
class TestTheLink:
    """From the review on, when all other pages of the course have ended."""

    def opened(self, cast: Cast, session: Session, phone: Client) -> Client:
        review = Review.objects.get(case=session.case)
        with transaction.atomic():
            link, _url = links.issue(
                purpose="result",
                subject_id=review.pk,
                patient=cast.patient,
                site=cast.fernbrook,
                now=MONTH_ON,
                actor=actor_of(cast.desk),
            )
        _visit, secret = visits.begin_on_tablet(link=link, staff=actor_of(cast.desk), real_now=MONTH_ON)
        phone.cookies[visits.cookie_name()] = secret
        return phone

    def test_the_desk_sends_it_and_the_patient_opens_the_letter(
        self, cast: Cast, session: Session, phone: Client
    ) -> None:
        case = reviewed(cast, session)
        with time_machine.travel(MONTH_ON, tick=False):
            desk, address = sign_in(cast.desk), reverse("result_send", args=[case.pk])
            assert address in desk.get(reverse("case", args=[case.pk])).content.decode()
            assert "is on its way" in desk.post(address, follow=True).content.decode()
            sweep(now=MONTH_ON)
            assert mail.outbox[-1].subject == "A letter for you from Fernbrook"
            assert "/p/l/" in str(mail.outbox[-1].body)
            page = self.opened(cast, session, phone)
            assert "Your result, as a letter" in page.get("/p/letter/").content.decode()
            letter = page.post("/p/letter/")
        assert "Your teeth are 7 steps lighter on the shade guide." in words_of(letter.content)

    def test_pressed_again_it_is_sent_again(self, cast: Cast, session: Session) -> None:
        case = reviewed(cast, session)
        for _time in range(2):
            result_link.send_link(case=case, user=cast.desk, actor=actor_of(cast.desk), now=MONTH_ON)
            sweep(now=MONTH_ON)
        assert [one.state for one in DueMessage.objects.filter(kind="result_ready")] == [State.HANDED_OVER] * 2

    def test_only_from_the_review_on_and_for_a_while(self, cast: Cast, session: Session) -> None:
        def tried(case: Case, now: datetime) -> None:
            with nothing_written(), pytest.raises(result_link.NoPageForResult):
                result_link.send_link(case=case, user=cast.desk, actor=actor_of(cast.desk), now=now)

        tried(session.case, NOW)
        case = reviewed(cast, session)
        late = MONTH_ON + result_link.OPEN_FOR
        tried(case, late)
        with time_machine.travel(late, tick=False):
            listed = sign_in(cast.desk).get(reverse("case", args=[case.pk])).content.decode()
        assert reverse("result_send", args=[case.pk]) not in listed
        window = purposes.get("result").window
        review = Review.objects.get(case=case)
        assert (window(review.pk, late), window(0, NOW)) == (None, None)

    def test_its_message_names_nothing_clinical(self, cast: Cast, session: Session) -> None:
        reviewed(cast, session)
        kind, review = kinds.get("result_ready"), Review.objects.get(case=session.case)
        with translation.override("en"):
            letter = kind.compose(review, DueMessage(), "https://casebook.example.org/p/l/" + "x" * 43 + "/")
        assert clinical_words(letter.subject + letter.sms, "en") == []
        assert len(letter.sms) <= 160


@pytest.mark.django_db
class TestTheCheck:
    def refused(self, cast: Cast, case: Case) -> str:
        with time_machine.travel(MONTH_ON, tick=False):
            desk = sign_in(cast.desk)
            with nothing_written():
                page = desk.post(reverse("check_letter", args=[case.pk]), follow=True)
        return page.content.decode()

    def test_it_asks_for_a_check_and_offers_nothing(self, cast: Cast, session: Session) -> None:
        case = reviewed(cast, session)
        with time_machine.travel(MONTH_ON, tick=False):
            page = sign_in(cast.desk).post(reverse("check_letter", args=[case.pk]))
        assert (page["Content-Type"], findings(page.content)) == ("application/pdf", [])
        text = words_of(page.content)
        for said in ("Your next dental check", "Dear Amara Nwosu,", "2 Mill Lane", "on Thu 2 Apr 2026 you were here"):
            assert said in text, said
        assert [word for word in OFFERS if word in text.lower()] == []
        paper = IssuedDocument.objects.get(kind="check_letter")
        assert (paper.subject_kind, paper.subject_id, paper.is_clinical) == ("case", str(case.pk), False)

    def test_before_the_review_there_is_none(self, cast: Cast, session: Session) -> None:
        assert "The month review comes first" in self.refused(cast, session.case)

    def test_whoever_wants_none_gets_none(self, cast: Cast, session: Session) -> None:
        case = reviewed(cast, session)
        choose_contact(
            patient=case.patient,
            choices={Purpose.RECALL: False},
            wordings={Purpose.RECALL: "no"},
            actor=actor_of(cast.desk),
            now=NOW,
        )
        assert "does not want to be told" in self.refused(cast, case)
        listed = sign_in(cast.desk).get(reverse("case", args=[case.pk])).content.decode()
        assert reverse("check_letter", args=[case.pk]) not in listed

    @pytest.mark.parametrize(
        ("changed", "said"),
        [
            ({"address": " "}, check_letter.NoAddress),
            ({"moved_on": NOW.date()}, check_letter.NobodyToWriteTo),
            ({"died_on": NOW.date()}, check_letter.NobodyToWriteTo),
        ],
    )
    def test_a_letter_that_could_not_arrive(
        self, cast: Cast, session: Session, changed: dict[str, object], said: type[Exception]
    ) -> None:
        case = reviewed(cast, session)
        Patient.objects.filter(pk=case.patient_id).update(**changed)
        case.patient.refresh_from_db()
        with nothing_written(), pytest.raises(said):
            check_letter.letter_of(case, actor=actor_of(cast.desk), now=MONTH_ON)
