"""The sheet to follow at home: what this plan, these answers and this diary make of it."""

from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.diary.engine.spans import Span, to_minute
from clinic.diary.models import Closure, ClosureKind
from clinic.documents import archive, larger
from clinic.documents.models import IssuedDocument
from clinic.messages.models import PrivateLink
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.data import rows
from tests.pdf import findings
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.recall import afterwards
from tests.whitening.recall.test_closing import on_the_tablet
from tests.whitening.screening import someone
from whitening.cases.actions import close_case
from whitening.cases.models import CloseReason, PlannedLight
from whitening.chairside.models import Session, SessionEvent
from whitening.recall.aftercare import sheet_of
from whitening.recall.aftercare_facts import facts_of, worst_at_chair
from whitening.recall.coming import Coming, What, ahead, coming
from whitening.recall.fitting_advice import FITTINGS, ON_RECORD, Place, codes_of, fitting
from whitening.recall.opening_days import opening_days
from whitening.screening.decisions import DecisionKind

LONDON = ZoneInfo("Europe/London")
TODAY = date(2026, 3, 3)


def test_words_that_fit_take_the_place_of_the_usual_ones() -> None:
    assert fitting(set()) == {}
    assert set(fitting({"MED-02", "SEN-02", "CAR-01"})) == {Place.PAIN, Place.SENSITIVE}
    assert "before you have spoken with us" in str(fitting({"MED-02"})[Place.PAIN])


@pytest.mark.parametrize(("score", "places"), [(None, set()), (3, set()), (4, {Place.SENSITIVE})])
def test_teeth_that_hurt_in_the_chair_are_sensitive(score: int | None, places: set[Place]) -> None:
    assert set(fitting(set(), worst_at_chair=score)) == places


def test_every_code_is_one_of_the_table_of_facts_and_every_source_is_named() -> None:
    known = {row["code"] for row in rows("screening_rules.csv")}
    assert {code for one in FITTINGS for code in one.rules} <= known | {ON_RECORD}
    assert all(one.source for one in FITTINGS)
    assert {one.place for one in FITTINGS} == set(Place)


def test_what_was_decided_about_still_holds_at_home_and_what_an_examination_refuted_does_not() -> None:
    sore = someone.said(sensitivity=5)
    found = someone.outcome(answers=sore)
    about = someone.finding(found, "SEN-02")
    cleared, examined = (
        someone.outcome(answers=sore, decisions=[someone.decide(about, kind)])
        for kind in (DecisionKind.CLEARED, DecisionKind.EXAMINED)
    )
    assert ["SEN-02" in codes_of(one) for one in (found, cleared, examined)] == [True, True, False]


def test_what_was_never_asked_is_no_no() -> None:
    assert "SEN-02" in codes_of(someone.outcome(answers=someone.said(sensitivity=None)))
    assert "SEN-02" not in codes_of(someone.outcome())


def test_days_with_the_same_hours_stand_together() -> None:
    """From Thursday over a weekend in which the clocks go forward: the wall clock is kept."""
    first_on = date(2026, 3, 26)
    spans = [span_of(2026, 3, day, 9, 17) for day in (26, 27, 30, 31)]
    spans[3:] = [span_of(2026, 3, 31, 9, 12), span_of(2026, 3, 31, 13, 17)]
    found = opening_days(spans, first_on=first_on, days=6, zone=LONDON)
    read = [(one.first_on.day, one.last_on.day, [f"{a:%H}-{b:%H}" for a, b in one.hours]) for one in found]
    assert read == [
        (26, 27, ["09-17"]),
        (28, 29, []),
        (30, 30, ["09-17"]),
        (31, 31, ["09-12", "13-17"]),
    ]


def span_of(year: int, month: int, day: int, start: int, end: int) -> Span:
    at = (datetime(year, month, day, hour, tzinfo=LONDON).astimezone(UTC) for hour in (start, end))
    first, last = (to_minute(one) for one in at)
    return first, last


def test_only_what_is_ahead_is_said_and_days_are_counted_from_the_sheet() -> None:
    call = Coming(What.CALL, NOW - timedelta(days=1), until_at=NOW - timedelta(hours=20))
    review = Coming(What.REVIEW_TO_PICK, NOW - timedelta(days=2), until_at=NOW + timedelta(days=12))
    check = Coming(What.CHECK, NOW + timedelta(days=1, hours=15))
    found = ahead([check, call, review], today=TODAY, zone=LONDON)
    assert [(one.what, one.days) for one in found] == [(What.REVIEW_TO_PICK, 0), (What.CHECK, 2)]


def text_of(document: IssuedDocument) -> str:
    pages = PdfReader(BytesIO(archive.read(document.sha256))).pages
    return " ".join("\n".join(page.extract_text() for page in pages).split())


def made(cast: Cast, session: Session, **more: object) -> IssuedDocument:
    return sheet_of(session, actor=actor_of(cast.clinician), now=NOW, **more)  # type: ignore[arg-type]  # is_large


@pytest.mark.django_db
class TestTheSheet:
    @pytest.mark.parametrize(("country", "large"), [("GB", False), ("US", True)])
    def test_it_says_what_this_plan_and_this_diary_make_of_it(self, cast: Cast, country: str, large: bool) -> None:
        Site.objects.update(country=country)
        cast.fernbrook.refresh_from_db()
        afterwards.opening_hours(cast)
        at = NOW.replace(day=5, hour=0)
        Closure.objects.create(
            site=cast.fernbrook, starts_at=at, ends_at=at + timedelta(days=1), kind=ClosureKind.CLOSED
        )
        session = afterwards.a_closed_session(cast, needs_call=True)
        # Plans only grow; this one is read as if it had been made so.
        session.plan.teeth_left_out = ["11", "21"]
        document = made(cast, session, is_large=large)
        text = text_of(document)
        assert findings(archive.read(document.sha256)) == []
        assert document.large_print is large
        for said in (
            "Left out of the treatment: upper right front tooth, upper left front tooth.",
            "A rash or a burn on the skin of your face: us, today",
            "Do not smoke or vape until Thu 5 Mar 2026, 09:00.",
            "Tue 3 Mar 2026 – Wed 4 Mar 2026 08:30–17:30", "Thu 5 Mar 2026 closed", "Fri 6 Mar 2026 08:30–17:30",
            "Sat 7 Mar 2026 – Sun 8 Mar 2026 closed", "Mon 9 Mar 2026 08:30–17:30",
            "call this number and say that you come from us: +442079460199",
            "Tomorrow Wed 4 Mar 2026: we call you between 10:00 and 18:00.",
            "In 2 days Thu 5 Mar 2026, 10:00: we ask you how you are.",
            "In about 4 weeks From Tue 31 Mar 2026 to Tue 14 Apr 2026: your month review.",
            "You can pick its time from Tue 24 Mar 2026 on.",
        ):  # fmt: skip
            assert said in text, said

    def test_what_can_wait_does_not_stand_where_to_call_at_once(self, cast: Cast) -> None:
        text = text_of(made(cast, afterwards.a_closed_session(cast)))
        urgent = text[text.index("Call at once") : text.index("Your teeth now")]
        assert "make an appointment" not in urgent
        assert "What comes next" in text.partition("In 7 days Anything left after a week: make an appointment.")[0]

    def test_usual_advice_for_whom_it_fits(self, cast: Cast) -> None:
        session = a_well_answered_session(cast)
        text = text_of(made(cast, session))
        for usual in ("Drink water.", "A paste with potassium nitrate or fluoride", "a pharmacist"):
            assert usual in text
        assert "today, before anything hurts" not in text
        session.case.patient.allergies = "Strawberries"
        careful = facts_of(session, closed_at=NOW, now=NOW).instead
        assert set(careful) == {Place.PAIN, Place.PASTE}
        # Without a light, or hours that are set up, nothing is said about them.
        assert ("burn on the skin" in text, "in the next days" in text) == (False, False)

    def test_other_advice_for_whom_it_does_not(self, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
        """Whatever rules there are: their words stand instead of the usual ones, and say nothing of why."""
        session = a_well_answered_session(cast)
        every = frozenset(code for one in FITTINGS for code in one.rules)
        monkeypatch.setattr("whitening.recall.aftercare_facts.codes_of", lambda _outcome: every)
        text = text_of(made(cast, session))
        for one in FITTINGS:
            assert str(one.words) in text, one.place
        for usual in ("Drink water.", "A paste with potassium nitrate", "a pharmacist", "allergy"):
            assert usual not in text

    def test_what_was_said_in_the_chair_counts(self, cast: Cast) -> None:
        session = afterwards.a_closed_session(cast)
        assert worst_at_chair(session) is None
        for seq, score in enumerate((2, 6, 3), start=100):
            SessionEvent.objects.create(
                session=session, seq=seq, kind="sensitivity", data={"score": score}, client_id=str(seq),
                happened_at=NOW, recorded_at=NOW, actor_id="1", actor_name="Ari",
            )  # fmt: skip
        assert worst_at_chair(session) == 6

    def test_a_further_session_that_is_booked_and_one_that_is_not(self, cast: Cast) -> None:
        session = afterwards.a_closed_session(cast, sessions=2)
        assert [one.what for one in coming(session, now=NOW)] == [What.CHECK, What.LEFT, What.SESSION_TO_BOOK]
        assert "Tue 10 Mar 2026 or later: your next session." in text_of(made(cast, session))
        booking = course.visit_of(cast, session.case, starts_at=NOW + timedelta(days=9))
        assert coming(session, now=NOW)[-1] == Coming(What.SESSION, booking.starts_at, days=9)


@pytest.mark.django_db
def test_a_sheet_in_large_print_leaves_the_code_on_the_other_good(
    cast: Cast, phone: Client, clock: time_machine.Traveller
) -> None:
    session = afterwards.a_closed_session(cast)
    made(cast, session)
    on_the_tablet(cast, session, phone)
    with nothing_written():
        page = phone.get(reverse("aftercare") + "?large=1").content.decode()
    assert 'name="large" value="1"' in page
    assert phone.post(reverse("aftercare"), {"large": "1"})["Content-Type"] == "application/pdf"
    printed = PrivateLink.objects.filter(write_only=True)
    assert [link.ended_at for link in printed] == [None, None]
    plain, large = IssuedDocument.objects.order_by("large_print")
    assert phone.get(reverse("aftercare")).content == archive.read(plain.sha256)
    assert phone.get(reverse("aftercare") + "?large=1").content == archive.read(large.sha256)
    # The desk has it from the list of papers, once drawn.
    desk = sign_in(cast.desk)
    with nothing_written():
        again = desk.post(reverse("document_larger", args=[plain.pk]))
    assert again.content == archive.read(large.sha256)


@pytest.mark.django_db
def test_large_print_is_not_offered_once_its_page_is_over(cast: Cast) -> None:
    """Its code would lead nowhere; what was drawn large before is still given."""
    session = afterwards.a_closed_session(cast)
    plain, later = made(cast, session), NOW + timedelta(days=120)
    assert larger.can(plain, now=NOW)
    close_case(case=session.case, reason=CloseReason.FINISHED, words="", actor=cast.clinician.actor, now=NOW)
    assert not larger.can(plain, now=later)
    large = made(cast, session, is_large=True)
    assert larger.can(plain, now=later)
    # Its foot is never alone on a page.
    last = PdfReader(BytesIO(archive.read(large.sha256))).pages[-1].extract_text()
    assert "Please note" in last
    assert large.verify_code[:4] in last


def a_well_answered_session(cast: Cast) -> Session:
    """Of one who said yes to nothing, without a light."""
    case = chairs.a_case(cast)
    course.answered(cast, case)
    session = afterwards.a_closed_session(cast)
    session.plan.light = PlannedLight.NONE
    return session
