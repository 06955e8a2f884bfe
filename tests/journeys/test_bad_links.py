"""Private links as they go wrong in life, on every page of the patients: each answers alike, and nothing is written."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.db import transaction
from django.test import Client

from clinic.diary import actions as diary
from clinic.diary.models import Booking
from clinic.messages import links
from clinic.messages.models import PrivateLink
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of
from tests.clinic.messages.entering import CLOSED, known
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.recall import afterwards

VISIT, HOW, REVIEW = "visit", "how_are_you", "review"
# Every patient page that belongs to one purpose; the message preferences belong to all of them.
PAGES = {
    VISIT: ("/p/before/", "/p/questions/", "/p/questions/done/", "/p/reading/", "/p/sign/", "/p/sign/withdraw/"),
    HOW: ("/p/how/", "/p/aftercare/", "/p/how/result/"),
    REVIEW: ("/p/review/",),
}
FOREIGN = [(meant, page) for meant in PAGES for purpose, pages in PAGES.items() if purpose != meant for page in pages]
# The review can be picked from day 21 on; everything is still open then.
DAY_21 = NOW + timedelta(days=21, hours=2)


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(DAY_21, tick=False) as traveller:
        yield traveller


@pytest.fixture
def addresses(cast: Cast, clock: time_machine.Traveller) -> dict[str, str]:
    """One working link of each purpose, all of the same patient and case."""
    session = afterwards.a_closed_session(cast)
    booking = course.visit_of(cast, session.case, starts_at=DAY_21 + timedelta(days=3))
    subjects = {VISIT: booking.pk, HOW: session.pk, REVIEW: session.pk}
    return {purpose: issued(cast, purpose, subject, patient=cast.patient) for purpose, subject in subjects.items()}


def issued(cast: Cast, purpose: str, subject_id: int, *, patient: Patient) -> str:
    with transaction.atomic():
        _link, url = links.issue(
            purpose=purpose,
            subject_id=subject_id,
            patient=patient,
            site=cast.fernbrook,
            actor=actor_of(cast.desk),
            now=DAY_21,
        )
    return url.removeprefix("http://localhost")


def is_turned_away(phone: Client, page: str) -> None:
    """Read or sent, the answer says whom to call, and that is all that happens."""
    with nothing_written():
        for answer in (phone.get(page), phone.post(page, {"all_well": "1", "as_before": "1"})):
            assert answer.status_code in {CLOSED, 405}
            if answer.status_code == CLOSED:
                assert "This page has closed" in answer.content.decode()
                assert "999" in answer.content.decode()


@pytest.mark.parametrize(("meant", "page"), FOREIGN)
def test_a_link_for_something_else(addresses: dict[str, str], meant: str, page: str) -> None:
    is_turned_away(known(Client(), addresses[meant]), page)


@pytest.mark.parametrize("purpose", PAGES)
def test_an_altered_link(addresses: dict[str, str], purpose: str) -> None:
    address = addresses[purpose].rstrip("/")
    is_turned_away(Client(), address[:-1] + ("A" if address[-1] != "A" else "B") + "/")


@pytest.mark.parametrize("purpose", PAGES)
def test_an_expired_link(addresses: dict[str, str], clock: time_machine.Traveller, purpose: str) -> None:
    """The last day of each is over; neither the link nor a page that was left open says or takes anything more."""
    left_open = known(Client(), addresses[purpose])
    PrivateLink.objects.update(closes_at=DAY_21 + timedelta(minutes=1))
    clock.shift(timedelta(minutes=1))
    is_turned_away(Client(), addresses[purpose])
    for page in PAGES[purpose]:
        is_turned_away(left_open, page)


@pytest.mark.parametrize("purpose", PAGES)
def test_a_link_whose_work_is_done(addresses: dict[str, str], cast: Cast, purpose: str) -> None:
    left_open = known(Client(), addresses[purpose])
    link = PrivateLink.objects.get(purpose=purpose)
    with transaction.atomic():
        links.end(purpose=purpose, subject_id=link.subject_id, actor=actor_of(cast.desk), now=DAY_21)
    is_turned_away(Client(), addresses[purpose])
    for page in PAGES[purpose]:
        is_turned_away(left_open, page)


def test_a_visit_that_was_called_off(addresses: dict[str, str], cast: Cast) -> None:
    """Its page says so and asks for nothing any more; no new link is made."""
    booking = Booking.objects.get()
    diary.cancel(booking=booking, by="patient", reason="", actor=actor_of(cast.desk), now=DAY_21)
    phone = known(Client(), addresses[VISIT])
    page = phone.get("/p/before/").content.decode()
    assert "there is nothing left to do here" in page
    assert "Answer the health questions" not in page
    with nothing_written(), pytest.raises(links.PurposeDone):
        issued(cast, VISIT, booking.pk, patient=cast.patient)


@pytest.mark.parametrize("purpose", PAGES)
def test_a_link_of_somebody_else(addresses: dict[str, str], cast: Cast, purpose: str) -> None:
    """Should a link ever name one patient and the visit of another, nothing of either is shown."""
    subject_id = PrivateLink.objects.get(purpose=purpose).subject_id
    other = cast.teenager
    phone = Client()
    phone.post(issued(cast, purpose, subject_id, patient=other))
    phone.post("/p/who/", {"birth_on": f"{other.birth_on:%d %m %Y}"})
    with nothing_written():
        for page in PAGES[purpose]:
            answer = phone.get(page)
            # Some ask for the code first; that goes to the patient whom the link names.
            assert answer.status_code in {404, 405} or answer.headers["Location"].startswith("/p/code/"), page
            assert cast.patient.name not in answer.content.decode()


def test_all_of_them_work(addresses: dict[str, str]) -> None:
    """Else the refusals above would prove nothing."""
    for purpose, pages in PAGES.items():
        phone = known(Client(), addresses[purpose])
        assert phone.get(pages[0]).status_code == 200, purpose
