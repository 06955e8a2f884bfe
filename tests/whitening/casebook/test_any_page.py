"""Whichever page a session's time comes from: one tab or two, the case's or the diary's own, and none once it ended."""

from datetime import timedelta

import pytest
from django.core import mail
from django.urls import reverse

from clinic.diary.models import Booking, Status, VisitType
from clinic.diary.waitlist.listing import WantedVisit, WishDetails, add_wish
from clinic.messages.sweep import sweep
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived, fresh
from tests.whitening.casebook.test_times import SESSION, offered, where
from whitening.casebook.actions import VisitWish, book_visit, hold_visit
from whitening.casebook.actions.ending import end_case
from whitening.casebook.wanting import CODES
from whitening.cases.models import Case, CloseReason

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]


@pytest.fixture
def call(cast: Cast) -> Lived:
    return lived.called(cast, at=NOW)


def test_from_two_tabs_no_session_the_day_after_another(cast: Cast, call: Lived) -> None:
    """Both showed the same free times; the second press would send a second confirmation."""
    client = sign_in(cast.desk)
    first = offered(client, call.case, SESSION)[0]
    assert client.post(where(call.case, SESSION), {"start_at": first.isoformat()}).status_code == 302
    for days in (1, 6):
        with nothing_written():
            sent = {"hold_at" if days == 1 else "start_at": (first + timedelta(days=days)).isoformat()}
            answer = client.post(where(call.case, SESSION), sent)
        assert answer.status_code == 409
        assert "too near to this course’s session on Tue 3 Mar 2026" in answer.content.decode()
    # A pencilled time that has lapsed is in the way of none, though no tick has come.
    lapsed = call.case.visits.get().booking.lapses_at
    assert lapsed is not None
    wish = VisitWish(SESSION, first + timedelta(days=1))
    assert book_visit(case=call.case, wish=wish, actor=actor_of(cast.desk), now=lapsed).session_number is not None


@pytest.mark.parametrize("way", ["start_at", "hold_at"])
def test_from_the_diary_a_session_is_the_cases_too_and_only_pencilled(cast: Cast, call: Lived, way: str) -> None:
    """Nothing is agreed yet, whichever page the desk has come by."""
    client, kind = sign_in(cast.desk), VisitType.objects.get(code=CODES[SESSION])
    address = f"{reverse('find_time', args=[call.case.patient_id])}?visit_type={kind.pk}&cycles=2"
    page = client.post(address, {way: (NOW + timedelta(days=2)).isoformat()}, follow=True).content.decode()
    if way == "hold_at":
        held = call.case.visits.get().booking
        page = client.post(reverse("booking_act", args=[held.pk, "book-held"]), follow=True).content.decode()
    assert "Pencilled. It lapses by itself unless it is confirmed." in page
    visit = call.case.visits.select_related("booking").get()
    assert (visit.purpose, visit.session_number, visit.booking.status) == (SESSION, 1, Status.PROPOSED)
    sweep(now=NOW)
    assert [one.subject for one in mail.outbox] == ["A time held for you at Fernbrook"]
    with nothing_written():
        near = client.post(address, {way: (NOW + timedelta(days=4)).isoformat()})
    assert near.status_code == 409


def test_from_the_diary_for_somebody_without_a_case(cast: Cast, call: Lived) -> None:
    Case.objects.all().delete()
    client, kind = sign_in(cast.desk), VisitType.objects.get(code=CODES[SESSION])
    address = f"{reverse('find_time', args=[cast.patient.pk])}?visit_type={kind.pk}&cycles=2"
    client.post(address, {"start_at": (NOW + timedelta(days=2)).isoformat()})
    booking = Booking.objects.get()
    assert booking.status == Status.PROPOSED
    with nothing_written():
        answer = client.post(reverse("booking_act", args=[booking.pk, "confirm"]))
    assert (answer.status_code, "Open a case for the patient" in answer.content.decode()) == (409, True)


def test_a_held_time_and_what_was_waited_for_go_with_it(cast: Cast, call: Lived) -> None:
    desk, kind = actor_of(cast.desk), VisitType.objects.get(code=CODES[SESSION])
    wish = add_wish(
        patient=call.case.patient,
        visit=WantedVisit(kind, 4),
        details=WishDetails(since_on=NOW.date()),
        actor=desk,
        now=NOW,
    )
    held = hold_visit(
        case=call.case, wish=VisitWish(SESSION, NOW + timedelta(days=2)), actor=actor_of(cast.assistant), now=NOW
    )
    end_case(case=call.case, reason=CloseReason.NOT_SUITABLE, words="", user=cast.desk, actor=desk, now=NOW)
    assert fresh(held).status == Status.CANCELLED
    assert not held.booking.claims.filter(active=True).exists()
    wish.refresh_from_db()
    assert wish.ended_because == "removed"
