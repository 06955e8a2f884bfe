"""Which consents and withdrawals the record of a session names: those that held while it lasted, in order of time."""

from datetime import timedelta
from io import BytesIO

import pytest
from pypdf import PdfReader

from clinic.documents import archive
from tests.cast import Cast, actor_of
from tests.whitening import course
from tests.whitening.consent import onpaper
from whitening.cases.models import Case
from whitening.chairside.consents_told import consents_told
from whitening.chairside.models import Session
from whitening.chairside.session_record import record_paper
from whitening.consent.actions import withdraw
from whitening.consent.models import PaperCheck, Signature

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]
undrawn = pytest.mark.usefixtures("quick_paper")
MIN = timedelta(minutes=1)
OPENED_AT = course.SIGNED_AT + 10 * MIN
CLOSED_AT = OPENED_AT + 60 * MIN


@pytest.fixture
def case(cast: Cast) -> Case:
    return course.ready_to_sign(cast)


def a_session(cast: Cast, case: Case) -> Session:
    return Session.objects.create(
        case=case,
        site=cast.fernbrook,
        plan=case.plans.earliest("version"),
        number=1,
        opened_at=OPENED_AT,
        opened_by=cast.clinician,
        closed_at=CLOSED_AT,
        closed_by=cast.clinician,
    )


def signed_anew(cast: Cast, case: Case, *, after: float) -> Signature:
    """For another plan: one more cycle, talked through and signed that many minutes after the opening."""
    at = OPENED_AT + after * MIN
    course.planned(cast, case, now=at - 2 * MIN, cycles_per_session=5)
    course.talked(cast, case, now=at - MIN)
    return course.signed(cast, case, now=at)


def withdrawn(cast: Cast, case: Case, *, after: float) -> None:
    withdraw(case=case, words="", actor=course.themselves(cast), now=OPENED_AT + after * MIN)


def told(session: Session) -> list[tuple[Signature, bool]]:
    return [(step.signature, step.is_withdrawal) for step in consents_told(session)]


def test_the_paper_names_each_of_them_in_order_of_time(cast: Cast, case: Case) -> None:
    session = a_session(cast, case)
    onpaper.compared(cast, onpaper.written_down(cast, case), now=OPENED_AT + 5 * MIN)
    signed_anew(cast, case, after=22)
    withdrawn(cast, case, after=30)
    paper = record_paper(session, actor=actor_of(cast.clinician), now=CLOSED_AT)
    text = " ".join(PdfReader(BytesIO(archive.read(paper.sha256))).pages[0].extract_text().split())
    day = "Tue 3 Mar 2026"
    by_hand = f"signed by hand on paper {day}, compared {day}, 10:05"
    assert f"Consent {by_hand}; signed {day}, 10:22; withdrawn {day}, 10:30 Gel" in text


@undrawn
def test_signed_anew_and_withdrawn_at_the_chair(cast: Cast, case: Case) -> None:
    first, session = course.signed(cast, case), a_session(cast, case)
    second = signed_anew(cast, case, after=22)
    withdrawn(cast, case, after=30)
    assert told(session) == [(first, False), (second, False), (second, True)]


@undrawn
def test_withdrawn_before_it_was_signed_anew(cast: Cast, case: Case) -> None:
    first, session = course.signed(cast, case), a_session(cast, case)
    withdrawn(cast, case, after=5)
    second = signed_anew(cast, case, after=22)
    assert told(session) == [(first, False), (first, True), (second, False)]


@undrawn
def test_what_was_replaced_before_or_came_after_is_left_out(cast: Cast, case: Case) -> None:
    course.signed(cast, case)
    second, session = signed_anew(cast, case, after=-5), a_session(cast, case)
    assert told(session) == [(second, False)]
    withdrawn(cast, case, after=61)
    assert told(session) == [(second, False)]


@undrawn
@pytest.mark.parametrize(("after", "is_told"), [(-5, True), (30, True), (61, False)])
def test_a_paper_counts_once_it_was_compared(cast: Cast, case: Case, after: float, is_told: bool) -> None:
    reading, session = onpaper.written_down(cast, case), a_session(cast, case)
    row = onpaper.compared(cast, reading, now=OPENED_AT + after * MIN)
    assert row is not None
    assert row.signed_at < OPENED_AT
    assert told(session) == ([(row, False)] if is_told else [])


@undrawn
def test_a_paper_that_is_older_than_the_consent_of_the_session_replaces_nothing(cast: Cast, case: Case) -> None:
    reading = onpaper.written_down(cast, case)
    newer, session = course.signed(cast, case), a_session(cast, case)
    withdrawn(cast, case, after=5)
    paper = Signature.objects.create(
        text=newer.text,
        case=case,
        plan=newer.plan,
        method="paper",
        signer_name="Amara Nwosu",
        device="paper",
        zone=newer.zone,
        signed_at=newer.signed_at - 5 * MIN,
        reading=reading,
        sha256="0" * 64,
    )
    PaperCheck.objects.create(
        reading=reading,
        agrees=True,
        checked_at=OPENED_AT + 10 * MIN,
        checked_by=cast.clinician,
        read_by=reading.read_by,
    )
    assert paper.signed_at < newer.signed_at
    assert told(session) == [(newer, False), (newer, True)]
