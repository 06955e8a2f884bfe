"""A paper counts for the talk it was signed after, and for no consent that was withdrawn since."""

from datetime import datetime, timedelta

import pytest
from django.urls import reverse

from clinic.documents import filing
from clinic.documents.models import IncomingPaper, IssuedDocument
from tests.cast import Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.consent import onpaper
from whitening.cases.models import Case
from whitening.consent.actions import (
    CannotSign,
    InterpreterFirst,
    PaperNotUsable,
    PaperSaid,
    check_paper,
    choose_photographs,
    interpreter_signs,
    print_form,
    read_paper,
    withdraw,
)
from whitening.consent.actions.interpreting import InterpreterInput
from whitening.consent.models import PaperReading, PaperWithdrawal, PhotoUse, Signature
from whitening.consent.reading import photo_choices, standing

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("quick_paper")]
AT, MINUTE = course.SIGNED_AT, timedelta(minutes=1)
INTERPRETED = {"interpreter": "present", "interpreter_name": "Ngozi Eze", "interpreter_language": "Igbo"}


@pytest.fixture(autouse=True)
def _at_signing(at_now: object) -> None:
    at_now.move_to(AT)  # type: ignore[attr-defined]  # the traveller of the fixture


@pytest.fixture
def case(cast: Cast) -> Case:
    return course.ready_to_sign(cast)


def printed(cast: Cast, case: Case, at: datetime) -> IssuedDocument:
    return print_form(case=case, user=cast.assistant, actor=actor_of(cast.assistant), now=at)


def read(cast: Cast, case: Case, paper: IncomingPaper, said: PaperSaid, at: datetime) -> PaperReading:
    return read_paper(case=case, paper=paper, said=said, user=cast.assistant, actor=actor_of(cast.assistant), now=at)


def compared(cast: Cast, reading: PaperReading, at: datetime) -> Signature | None:
    return check_paper(
        reading=reading, agrees=True, words="", user=cast.clinician, actor=actor_of(cast.clinician), now=at
    )


def withdrawn(cast: Cast, case: Case, at: datetime) -> None:
    withdraw(case=case, words="", actor=course.themselves(cast), now=at)


def test_a_blank_form_of_the_day_of_a_withdrawal_is_refused(cast: Cast, case: Case) -> None:
    course.signed(cast, case)
    withdrawn(cast, case, AT + MINUTE)
    course.talked(cast, case, now=AT + 2 * MINUTE)
    paper = onpaper.scanned(cast, case)
    with nothing_written(), pytest.raises(PaperNotUsable, match="withdrawn on that day or later"):
        read(cast, case, paper, onpaper.said(None), AT + 3 * MINUTE)


def test_a_blank_form_read_before_the_withdrawal_does_not_count_after_it(cast: Cast, case: Case) -> None:
    reading = read(cast, case, onpaper.scanned(cast, case), onpaper.said(None), AT)
    course.signed(cast, case, now=AT + MINUTE)
    withdrawn(cast, case, AT + 2 * MINUTE)
    course.talked(cast, case, now=AT + timedelta(days=1))
    with nothing_written(), pytest.raises(PaperNotUsable, match="withdrawn this consent meanwhile"):
        compared(cast, reading, AT + timedelta(days=1, minutes=1))
    assert not standing(case).signed_this_plan


def test_of_two_talks_of_a_day_a_blank_form_says_nothing(cast: Cast, case: Case) -> None:
    reading = read(cast, case, onpaper.scanned(cast, case), onpaper.said(None), AT)
    course.talked(cast, case, now=AT + MINUTE)
    with nothing_written(), pytest.raises(PaperNotUsable, match="more than one talk"):
        compared(cast, reading, AT + 2 * MINUTE)


def test_printed_anew_after_another_talk_it_is_another_form(cast: Cast, case: Case) -> None:
    first = printed(cast, case, AT)
    course.talked(cast, case, now=AT + MINUTE)
    paper = onpaper.scanned(cast, case)
    with nothing_written(), pytest.raises(PaperNotUsable, match="talked through again"):
        read(cast, case, paper, onpaper.said(first), AT + 2 * MINUTE)
    again = printed(cast, case, AT + 2 * MINUTE)
    assert again != first
    row = compared(cast, read(cast, case, paper, onpaper.said(again), AT + 3 * MINUTE), AT + 4 * MINUTE)
    assert standing(case).signature == row


def test_signed_anew_on_paper_after_a_withdrawal_of_the_same_day(cast: Cast, case: Case) -> None:
    course.signed(cast, case)
    withdrawn(cast, case, AT + MINUTE)
    talk = course.talked(cast, case, now=AT + 2 * MINUTE)
    form = printed(cast, case, AT + 3 * MINUTE)
    reading = read(cast, case, onpaper.scanned(cast, case), onpaper.said(form), AT + 4 * MINUTE)
    row = compared(cast, reading, AT + 5 * MINUTE)
    held = standing(case)
    assert (held.signature, held.withdrawal, reading.text.talk) == (row, None, talk)


def test_an_interpreters_signature_is_for_one_talk(cast: Cast, case: Case) -> None:
    course.talked(cast, case, now=AT, **INTERPRETED)
    row = course.signed(cast, case, now=AT + MINUTE)
    interpreter_signs(
        case=case,
        given=InterpreterInput(name="Ngozi Eze", declared=True, seen_sha256=row.text.sha256, typed=True),
        user=cast.assistant,
        actor=actor_of(cast.assistant),
        now=AT + 2 * MINUTE,
    )
    withdrawn(cast, case, AT + 3 * MINUTE)
    course.talked(cast, case, now=AT + 60 * MINUTE, **INTERPRETED)
    course.signed(cast, case, now=AT + 61 * MINUTE)
    assert standing(case).lacks_interpreter
    with nothing_written(), pytest.raises(InterpreterFirst):
        course.countersigned(cast, case, now=AT + 62 * MINUTE)


class TestWithdrawnWhileItWaits:
    """The patient says no before the second person has looked."""

    @pytest.fixture
    def reading(self, cast: Cast, case: Case) -> PaperReading:
        return onpaper.written_down(cast, case)

    def test_by_the_patient_on_the_phone(self, cast: Cast, case: Case, reading: PaperReading) -> None:
        phone = course.phone_of(cast, course.visit_of(cast, case), code_passed=False)
        assert "I withdraw my consent" in phone.get(reverse("sign_withdraw")).content.decode()
        assert phone.post(reverse("sign_withdraw")).status_code == 200
        row = PaperWithdrawal.objects.get()
        assert (row.reading, row.withdrawn_by) == (reading, "Amara Nwosu")
        with nothing_written():
            assert phone.post(reverse("sign_withdraw")).status_code == 409

    @pytest.mark.parametrize("name", ["consent", "case"])
    def test_staff_find_the_button(self, cast: Cast, case: Case, reading: PaperReading, name: str) -> None:
        page = sign_in(cast.clinician).get(reverse(name, args=[case.pk])).content.decode()
        assert reverse("consent_withdraw", args=[case.pk]) in page

    def test_then_nobody_can_make_it_count(self, cast: Cast, case: Case, reading: PaperReading) -> None:
        withdrawn(cast, case, AT + MINUTE)
        with nothing_written(), pytest.raises(PaperNotUsable, match="withdrawn this consent meanwhile"):
            compared(cast, reading, AT + 2 * MINUTE)
        course.talked(cast, case, now=AT + 3 * MINUTE)
        with nothing_written(), pytest.raises(PaperNotUsable):
            compared(cast, reading, AT + 4 * MINUTE)
        with nothing_written(), pytest.raises(PaperNotUsable, match="withdrawn after this form was printed"):
            read(cast, case, reading.paper, onpaper.said(reading.form), AT + 5 * MINUTE)
        assert not standing(case).signed_this_plan

    def test_the_next_signature_needs_a_talk_of_its_own(self, cast: Cast, case: Case, reading: PaperReading) -> None:
        withdrawn(cast, case, AT + MINUTE)
        with pytest.raises(CannotSign, match="You withdrew your consent"):
            course.signed(cast, case, now=AT + 2 * MINUTE)
        course.talked(cast, case, now=AT + 3 * MINUTE)
        assert standing(case).signature is None
        course.signed(cast, case, now=AT + 4 * MINUTE)
        assert standing(case).signed_this_plan


def test_a_no_to_photographs_wins_over_a_yes_of_the_same_day(cast: Cast, case: Case) -> None:
    """The paper bears a day and no time, so nobody can tell which came last."""
    choose_photographs(case=case, choices={PhotoUse.PUBLIC: True}, actor=course.themselves(cast), now=AT - MINUTE)
    compared(cast, onpaper.written_down(cast, case), AT + MINUTE)
    assert photo_choices(case)[PhotoUse.PUBLIC] is False


def test_a_yes_of_a_later_day_holds(cast: Cast, case: Case) -> None:
    reading = onpaper.written_down(cast, case)
    tomorrow = AT + timedelta(days=1)
    choose_photographs(case=case, choices={PhotoUse.PUBLIC: True}, actor=course.themselves(cast), now=tomorrow)
    compared(cast, reading, tomorrow + MINUTE)
    assert photo_choices(case)[PhotoUse.PUBLIC] is True


@pytest.mark.parametrize("blank", [False, True])
def test_the_health_answers_are_those_that_were_known_when_it_was_signed(
    cast: Cast, case: Case, at_now: object, blank: bool
) -> None:
    """Handed in on the day of the signature, after midnight and before the form was printed."""
    at = AT + timedelta(days=1)
    at_now.move_to(at)  # type: ignore[attr-defined]  # the traveller of the fixture
    newest = course.answered(cast, case, now=at - 60 * MINUTE, medicines=("warfarin",))
    form = printed(cast, case, at - 30 * MINUTE)
    said = onpaper.said(None if blank else form, signed_on=onpaper.SIGNED_ON + timedelta(days=1))
    row = compared(cast, read(cast, case, onpaper.scanned(cast, case), said, at), at + MINUTE)
    assert row is not None
    assert row.answers == newest


def test_a_scan_noted_as_a_mistake_between_page_and_press(cast: Cast, case: Case) -> None:
    form, paper = onpaper.printed(cast, case), onpaper.scanned(cast, case)
    before = IncomingPaper.objects.select_related("site", "mistake", "filed_by").get(pk=paper.pk)
    filing.note_mistake(
        paper=paper, why="another patient's", user=cast.assistant, actor=actor_of(cast.assistant), now=AT
    )
    with nothing_written(), pytest.raises(filing.NotedAsMistake):
        read(cast, case, before, onpaper.said(form), AT)
