"""What to do and bring before a visit: on the patient's page for everybody, on the paper with what is planned."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.diary.models import Booking
from clinic.documents.models import IssuedDocument
from tests.cast import NOW, Cast, sign_in
from tests.pdf import findings
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.consent.seed import case_of, patient_of
from whitening.cases.models import Case, CaseVisit, Isolation, Plan, PlannedLight, VisitPurpose
from whitening.consent.preparing import Planned, Preparing

PAGE, PAPER = "/p/prepare/", "/p/prepare/paper/"
PLANNED = "The gel lies on the teeth up to 4 times, for up to 15 minutes each time."


@pytest.mark.parametrize(
    ("light", "isolation", "blue"),
    [
        (PlannedLight.NONE, Isolation.RESIN_FREE, False),
        (PlannedLight.NONE, Isolation.RESIN_BARRIER, True),
        (PlannedLight.ARCH, Isolation.RESIN_FREE, True),
    ],
)
def test_blue_light_comes_from_the_light_or_from_curing(light: str, isolation: str, blue: bool) -> None:
    plan = Plan(
        upper_arch=True,
        lower_arch=False,
        cycles_per_session=3,
        minutes_per_cycle=12,
        sessions=2,
        light=light,
        isolation=isolation,
        fee=Decimal(1),
    )
    planned = Planned.of(plan, session=2)
    assert (planned.upper, planned.lower, planned.gel_minutes) == (True, False, 36)
    assert (planned.session, planned.sessions, planned.blue_light) == (2, 2, blue)


def test_hours_without_smoke_are_counted_as_they_pass() -> None:
    """From Friday to Sunday of a weekend in which the clocks go forward in London."""
    start = datetime(2026, 3, 27, 15, 0, tzinfo=UTC)
    facts = Preparing(is_session=True, starts_at=start, ends_at=start + timedelta(minutes=90))
    assert (facts.minutes, facts.smoke_free_until) == (90, datetime(2026, 3, 29, 16, 30, tzinfo=UTC))


@pytest.fixture
def case(cast: Cast, at_now: object) -> Case:
    return course.ready_to_sign(cast, light=PlannedLight.ARCH)


@pytest.fixture
def booking(cast: Cast, case: Case) -> Booking:
    return course.visit_of(cast, case)


@pytest.fixture
def phone(cast: Cast, booking: Booking) -> Client:
    return course.phone_of(cast, booking)


def words_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


@pytest.mark.django_db
class TestThePage:
    def test_it_works(self, phone: Client) -> None:
        assert f'href="{PAGE}"' in phone.get(reverse("before_visit")).content.decode()
        with nothing_written():
            page = phone.get(PAGE)
        text = " ".join(page.content.decode().split())
        assert page.status_code == 200
        for said in (
            "Eat a proper meal first.", "No lipstick", "Leave contact lenses out", "Take piercings out",
            "If you use an inhaler, bring it.", "your mouth is held open", "a sign for stop", "Who may come",
            "Do not smoke or vape after the visit until about Sun 8 Mar 2026, 10:30.",
            "The upper and the lower teeth are treated.", PLANNED, "up to 60 minutes together",
            "A light is used with the gel.", "do not keep blue light out", "the maker's instructions or local rules",
        ):  # fmt: skip
            assert said in text, said
        # Of one session there is nothing to count.
        assert "This is session" not in text

    def test_without_the_code_it_says_what_holds_for_everybody(self, cast: Cast, booking: Booking) -> None:
        page = course.phone_of(cast, booking, code_passed=False).get(PAGE).content.decode()
        assert "Eat a proper meal first." in page
        assert PLANNED not in page
        assert "A light is used with the gel." not in page

    def test_a_consultation_has_words_of_its_own(self, phone: Client, booking: Booking) -> None:
        CaseVisit.objects.update(purpose=VisitPurpose.CONSULTATION, session_number=None)
        page = phone.get(PAGE).content.decode()
        assert "Bring a list of your medicines" in page
        for other in ("Do not smoke", PLANNED, "bring no children"):
            assert other not in page

    def test_other_visits_have_none(self, phone: Client, booking: Booking) -> None:
        CaseVisit.objects.update(purpose=VisitPurpose.REVIEW, session_number=None)
        assert PAGE not in phone.get(reverse("before_visit")).content.decode()
        assert (phone.get(PAGE).status_code, phone.post(PAPER).status_code) == (404, 404)
        assert not IssuedDocument.objects.exists()


@pytest.mark.django_db
class TestThePaper:
    @pytest.mark.parametrize(("country", "large"), [("GB", False), ("US", True)])
    def test_it_works(self, phone: Client, country: str, large: bool) -> None:
        Site.objects.update(country=country)
        with nothing_written():
            assert "In large print" in phone.get(PAPER).content.decode()
        page = phone.post(PAPER, {"large": "1"} if large else {})
        assert (page.status_code, page["Content-Type"], findings(page.content)) == (200, "application/pdf", [])
        text = words_of(page.content)
        for said in ("Before your visit on Fri 6 Mar 2026, 09:00", "Amara Nwosu, born 17 May 1990", PLANNED,
                     "does not replace it"):  # fmt: skip
            assert said in text, said
        assert IssuedDocument.objects.get().large_print is large

    def test_it_is_drawn_once_until_something_changes(
        self, cast: Cast, case: Case, booking: Booking, phone: Client, quick_paper: None
    ) -> None:
        first = phone.post(PAPER).content
        with nothing_written():
            assert phone.post(PAPER).content == first
        course.planned(cast, case, now=NOW + timedelta(minutes=45), cycles_per_session=3)
        # As if it had been issued before that.
        assert phone.post(PAPER).content != first
        Booking.objects.filter(pk=booking.pk).update(starts_at=booking.starts_at + timedelta(hours=1))
        phone.post(PAPER)
        titles = set(IssuedDocument.objects.values_list("title", flat=True))
        assert titles == {f"Before your visit on Fri 6 Mar 2026, {hour}:00" for hour in ("09", "10")}

    def test_nobody_elses_link_opens_it(self, cast: Cast, booking: Booking, quick_paper: None) -> None:
        other = case_of(cast, patient_of(cast, "Marek Dvořák", NOW), NOW)
        stranger = course.phone_of(cast, course.visit_of(cast, other, patient=other.patient))
        page = stranger.get(PAGE).content.decode()
        # Their own, about which nothing is planned yet.
        assert ("Eat a proper meal first." in page, PLANNED in page) == (True, False)
        no_code = course.phone_of(cast, booking, code_passed=False)
        with nothing_written():
            assert no_code.post(PAPER)["Location"] == reverse("private_code")
            assert Client().post(PAPER).status_code == 410

    def test_the_desk_prints_it_and_it_tells_no_answer(self, cast: Cast, at_now: object) -> None:
        case = chairs.a_case(cast)
        course.answered(cast, case, medicines=("warfarin",), flashing_lights="yes")
        course.planned(cast, case)
        booking = course.visit_of(cast, case)
        desk, address = sign_in(cast.desk), reverse("booking_paper", args=[booking.pk, "before"])
        assert address in desk.get(reverse("booking", args=[booking.pk])).content.decode()
        text = words_of(desk.post(address).content)
        assert PLANNED in text
        for answer in ("warfarin", "flashing", "epilepsy", "Must not"):
            assert answer not in text
