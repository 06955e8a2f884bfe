"""Two records of one person: the courses of both, what was signed, and what a dentist has to read first."""

from datetime import timedelta
from pathlib import Path

import pytest
from django.urls import reverse
from pytest_django.fixtures import Settings

from clinic.documents.models import IncomingPaper, IssuedDocument, PaperKind
from clinic.patients import merging
from clinic.patients.actions import part_patients
from clinic.patients.models import Patient
from clinic.patients.person import JoinedMeanwhile
from clinic.trail import clock, sealing
from clinic.trail.models import TrailEntry
from clinic.trail.verify import verify
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.patients.twice import join, second_record
from tests.papers import filed
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import MONDAY, Lived
from tests.whitening.chairside import chairs
from whitening.casebook.facts import Ask, facts_of_many
from whitening.casebook.gates import Gate, evaluate
from whitening.cases.actions import close_case, open_case
from whitening.cases.joining import BothOpen
from whitening.cases.models import Case, CloseReason
from whitening.cases.papers import papers_of
from whitening.chairside.actions import GatesShut
from whitening.chairside.joining import InTheChair
from whitening.consent.reading import standing
from whitening.screening.actions import sign_assessment
from whitening.screening.grades import Family, Profession
from whitening.screening.joined import other_courses, to_sign
from whitening.screening.joining import SignedMeanwhile
from whitening.screening.reading import outcome_of
from whitening.screening.signed import digest, lines

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
DAY = NOW.date()
TO_READ = "Dentist to read the joined record"


def opened(cast: Cast, patient: Patient) -> Case:
    desk = cast.desk
    return open_case(patient=patient, wishes="Lighter.", expected_cycles=4, user=desk, actor=actor_of(desk), now=MONDAY)


def not_suitable(cast: Cast, patient: Patient) -> Case:
    """An earlier course under this record, which a must-not ended."""
    case = opened(cast, patient)
    course.answered(cast, case, now=MONDAY, porphyria="yes")
    return close_case(case=case, reason=CloseReason.NOT_SUITABLE, words="", actor=actor_of(cast.desk), now=MONDAY)


def seen_on(page: str) -> str:
    return page.split('name="seen" value="')[1].split('"', maxsplit=1)[0]


def questions_of(case: Case) -> Gate:
    ask = Ask(case_id=case.pk, day=DAY, carried_out_by=Profession.DENTIST)
    return next(gate for gate in evaluate(facts_of_many([ask])[0]) if gate.code == "questions")


def read_and_signed(cast: Cast, case: Case) -> None:
    seen = digest(to_sign(outcome_of(case, today=DAY).without(Family.CONSENT), other_courses(case, today=DAY)))
    now = NOW + timedelta(minutes=1)
    sign_assessment(case=case, seen=seen, user=cast.clinician, actor=actor_of(cast.clinician), now=now)


class TestCasesComeTogether:
    def test_both_are_read_from_the_kept_record(self, cast: Cast) -> None:
        other = second_record(cast)
        earlier, now_open = not_suitable(cast, other), opened(cast, cast.patient)
        join(cast, cast.patient, other)
        page = sign_in(cast.clinician).get(reverse("patient", args=[cast.patient.pk])).content.decode()
        for case in (earlier, now_open):
            assert reverse("case", args=[case.pk]) in page
        assert "Two records were joined here" in page
        assert "Also registered as" in page

    def test_a_course_goes_on_as_it_was_agreed(self, cast: Cast) -> None:
        """What was signed still verifies, its papers and its story are found, and the session starts."""
        life, kept = lived.agreed(cast), second_record(cast)
        document = IssuedDocument.objects.get(kind="consent")
        join(cast, kept, cast.patient)
        life.case = Case.objects.select_related("site", "patient").get(pk=life.case.pk)
        assert life.case.patient_id == kept.pk
        assert standing(life.case).agreed
        page = sign_in(cast.clinician).get(reverse("case", args=[life.case.pk])).content.decode()
        assert reverse("document_file", args=[document.pk]) in page
        assert "joined another record" in page
        lived.here(life)
        assert lived.started(life).case.patient_id == kept.pk
        # Issued bytes and their row are never written anew.
        assert IssuedDocument.objects.get(pk=document.pk).patient_id == cast.patient.pk

    def test_a_scan_of_the_alias_is_evidence_for_the_person(self, cast: Cast) -> None:
        other = second_record(cast)
        paper = filed(other, cast.desk, kind=PaperKind.LETTER)
        case = opened(cast, cast.patient)
        join(cast, cast.patient, other)
        assert list(papers_of(case)) == [paper]
        assert IncomingPaper.objects.get().patient_id == other.pk
        page = sign_in(cast.clinician).get(reverse("patient", args=[cast.patient.pk])).content.decode()
        assert reverse("incoming_file", args=[paper.pk]) in page

    def test_no_new_case_for_the_alias(self, cast: Cast) -> None:
        other = second_record(cast)
        join(cast, cast.patient, other)
        with nothing_written(), pytest.raises(JoinedMeanwhile):
            opened(cast, other)
        assert sign_in(cast.desk).get(reverse("case_new", args=[other.pk])).status_code == 404

    def test_apart_again(self, cast: Cast) -> None:
        other, manager = second_record(cast), cast.manager
        earlier, now_open = not_suitable(cast, other), opened(cast, cast.patient)
        join(cast, cast.patient, other)
        part_patients(alias=other, user=manager, actor=actor_of(manager), now=NOW)
        owners = dict(Case.objects.values_list("pk", "patient"))
        assert owners == {earlier.pk: other.pk, now_open.pk: cast.patient.pk}
        assert questions_of(now_open).says != (TO_READ,)


class TestRefused:
    def test_both_have_an_open_case(self, cast: Cast) -> None:
        other = second_record(cast)
        opened(cast, other)
        opened(cast, cast.patient)
        with nothing_written(), pytest.raises(BothOpen, match="Mon 2 Mar 2026"):
            join(cast, cast.patient, other)

    @pytest.mark.parametrize("kept_is_treated", [True, False])
    def test_one_is_in_the_chair(self, cast: Cast, kept_is_treated: bool) -> None:
        other = second_record(cast)
        chairs.a_session(cast)
        both = (cast.patient, other) if kept_is_treated else (other, cast.patient)
        with nothing_written(), pytest.raises(InTheChair):
            join(cast, *both)

    def test_a_room_that_breaks_keeps_everything_as_it_was(self, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
        def broken(_joining: merging.Joining) -> merging.Moved:
            raise RuntimeError("broken")

        other = second_record(cast)
        not_suitable(cast, other)
        monkeypatch.setitem(merging._rooms, "broken", merging.Room(code="broken", move=broken))
        assert cast.patient.pk
        with nothing_written(), pytest.raises(RuntimeError):
            join(cast, cast.patient, other)


class TestFormerFindings:
    """A must-not that was said under the other record is read by a dentist before anybody is treated."""

    @pytest.fixture
    def life(self, cast: Cast) -> Lived:
        life, other = lived.agreed(cast), second_record(cast)
        not_suitable(cast, other)
        join(cast, cast.patient, other)
        return life

    def test_no_session_starts_unread(self, cast: Cast, life: Lived) -> None:
        lived.here(life)
        assert questions_of(life.case).says == (TO_READ,)
        with nothing_written(), pytest.raises(GatesShut, match="Health questions"):
            lived.started(life)

    def test_signed_as_read(self, cast: Cast, life: Lived) -> None:
        read_and_signed(cast, life.case)
        assert not questions_of(life.case).is_shut
        lived.here(life, at=NOW + timedelta(minutes=2))
        lived.started(life, at=NOW + timedelta(minutes=3))

    def test_a_signature_from_before_is_none(self, cast: Cast) -> None:
        life, other = lived.agreed(cast), second_record(cast)
        read_and_signed(cast, life.case)
        not_suitable(cast, other)
        join(cast, cast.patient, other, now=NOW + timedelta(minutes=2))
        assert questions_of(life.case).says == (TO_READ,)

    def test_what_was_signed_while_they_were_being_joined_is_none(self, cast: Cast) -> None:
        """Whoever joins them has pressed; the signature comes first, and its reader saw one record alone."""
        life, other = lived.agreed(cast), second_record(cast)
        not_suitable(cast, other)
        read_and_signed(cast, life.case)
        for pressed_at in (NOW, NOW + timedelta(minutes=1)):
            with nothing_written(), pytest.raises(SignedMeanwhile):
                join(cast, cast.patient, other, now=pressed_at)
        join(cast, cast.patient, other, now=NOW + timedelta(minutes=1, microseconds=1))
        assert questions_of(life.case).says == (TO_READ,)

    def test_a_page_from_before_they_were_joined_signs_nothing(self, cast: Cast) -> None:
        """Its reader has not seen the must-not; the page that answers lists it, and is signed."""
        life, other, dentist = lived.agreed(cast), second_record(cast), sign_in(cast.clinician)
        earlier = not_suitable(cast, other)
        where = [reverse(name, args=[life.case.pk]) for name in ("assessment", "assessment_sign")]
        before = dentist.get(where[0]).content.decode()
        join(cast, cast.patient, other)
        with nothing_written():
            refused = dentist.post(where[1], {"seen": seen_on(before)})
        assert refused.status_code == 409
        assert questions_of(life.case).says == (TO_READ,)
        now_shown = refused.content.decode()
        assert "porphyria" in now_shown.lower()
        assert dentist.post(where[1], {"seen": seen_on(now_shown)}).status_code == 302
        assert not questions_of(life.case).is_shut
        signed = life.case.assessment_signatures.get()
        assert [row["case"] for row in signed.outcome["others"]] == [earlier.pk]
        assert any("porphyria" in str(line.finding).lower() for line in lines(signed.outcome))

    def test_the_page_to_sign_on_lists_them(self, cast: Cast, life: Lived) -> None:
        page = sign_in(cast.clinician).get(reverse("assessment", args=[life.case.pk])).content.decode()
        found = [one.rule.finding for one in other_courses(life.case, today=DAY)[0].findings]
        assert any("porphyria" in str(words).lower() for words in found)
        assert all(str(words) in page for words in found)
        assert "Sign as read" in page

    def test_it_comes_back_when_somebody_signs_only_the_earlier_course(self, cast: Cast) -> None:
        """The open course may be the alias’s, and the must-not the kept record’s."""
        other = second_record(cast)
        not_suitable(cast, cast.patient)
        case = opened(cast, other)
        join(cast, cast.patient, other)
        assert questions_of(case).says == (TO_READ,)

    def test_a_new_course_after_joining(self, cast: Cast) -> None:
        other = second_record(cast)
        not_suitable(cast, other)
        join(cast, cast.patient, other)
        assert questions_of(opened(cast, cast.patient)).says == (TO_READ,)

    def test_nothing_was_ever_said_under_the_other(self, cast: Cast) -> None:
        life, other = lived.agreed(cast), second_record(cast)
        join(cast, cast.patient, other)
        assert not questions_of(life.case).is_shut

    def test_the_desk_reads_no_finding(self, cast: Cast, life: Lived) -> None:
        for address in (reverse("patient", args=[cast.patient.pk]), reverse("case", args=[life.case.pk])):
            page = sign_in(cast.desk).get(address).content.decode()
            assert "porphyria" not in page.lower()
            assert "Must not" not in page


def test_the_trail_still_verifies(cast: Cast, settings: Settings, tmp_path: Path) -> None:
    other = second_record(cast)
    not_suitable(cast, other)
    join(cast, cast.patient, other)
    # The heads of other tests, whose entries were rolled back, lie elsewhere.
    settings.TRAIL_ANCHOR_DIR = tmp_path
    sealing.anchor_tick(clock.real_now())
    assert verify(anchor_dir=tmp_path).holds
    assert TrailEntry.objects.filter(verb="patients.joined").exists()
