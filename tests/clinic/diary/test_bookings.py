"""One visit's page: what can be done with it now, by whom, and what happens when somebody else was faster."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Role
from clinic.diary import actions
from clinic.diary.models import Booking, Status
from clinic.messages.models import DueMessage, LinkVisit, PrivateLink, State
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import at, book, elsewhere_booking, pencil
from tests.support import nothing_written


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def desk(diary: Cast) -> Client:
    return sign_in(diary.desk)


def show(client: Client, booking: Booking) -> Answer:
    return client.get(reverse("booking", kwargs={"pk": booking.pk}))


def press(client: Client, booking: Booking, act: str) -> Answer:
    return client.post(reverse("booking_act", kwargs={"pk": booking.pk, "act": act}))


def cancel(client: Client, booking: Booking, **typed: str) -> Answer:
    """As from the page that shows the visit as it is now, unless another version is typed."""
    version = str(Booking.objects.get(pk=booking.pk).version)
    return client.post(reverse("booking_cancel", kwargs={"pk": booking.pk}), {"version": version, **typed})


def acts(page: Answer) -> list[str]:
    return [code for code, _word in page.context["acts"]]


def test_it_works(diary: Cast, clock: time_machine.Traveller) -> None:
    booking = book(diary, at(9))
    # Nobody is here the day before; but somebody may ring and say that they come.
    assert acts(show(sign_in(diary.desk), booking)) == ["comes"]
    clock.move_to(at(8, 55))
    desk = sign_in(diary.desk)
    page = show(desk, booking)
    text = page.content.decode()
    for words in ("Wed 4 Mar 2026, 09:00", "Willow", "Turn-round", "Cleo Haddad", "booked"):
        assert words in text
    assert acts(page) == ["arrive"]
    assert press(desk, booking, "arrive").headers["Location"] == reverse("booking", kwargs={"pk": booking.pk})
    assert acts(show(desk, booking)) == ["check-in", "take-back"]
    press(desk, booking, "check-in")
    press(desk, booking, "finish")
    assert Booking.objects.get().status == Status.FULFILLED
    page = show(desk, booking)
    assert (acts(page), page.context["can_cancel"], page.context["can_move"]) == (["take-back"], False, False)


def test_wrong_role(diary: Cast) -> None:
    booking = book(diary, at(9))
    client = sign_in(diary.manager)
    page = show(client, booking)
    assert (page.status_code, acts(page), page.context["can_cancel"]) == (200, [], False)
    with nothing_written():
        assert press(client, booking, "arrive").status_code == 403
        assert cancel(client, booking, by="patient").status_code == 403


def test_other_site(diary: Cast, desk: Client) -> None:
    booking = elsewhere_booking(diary)
    with nothing_written():
        assert show(desk, booking).status_code == 404
        assert press(desk, booking, "arrive").status_code == 404
        assert cancel(desk, booking, by="patient").status_code == 404


def test_a_manager_there_and_desk_here_does_nothing_there(diary: Cast) -> None:
    """The role counts at the site of the visit, not at the one the person works at just now."""
    booking = elsewhere_booking(diary)
    diary.desk.memberships.create(site=diary.alderton, role=Role.MANAGER)
    diary.desk.refresh_from_db()
    client = sign_in(diary.desk)
    # The manager of the other site needs a second factor, which sign_in vouches for.
    assert show(client, booking).status_code == 200
    with nothing_written():
        assert press(client, booking, "arrive").status_code == 403
        assert cancel(client, booking, by="patient").status_code == 403
        assert client.get(reverse("booking_move", kwargs={"pk": booking.pk})).status_code == 403
        assert client.get(reverse("find_time", kwargs={"patient_pk": booking.patient_id})).status_code == 403


def test_an_unfinished_cancelling_of_what_is_gone_says_so(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    assert cancel(desk, booking).status_code == 422
    actions.cancel(booking=booking, by="patient", reason="", actor=actor_of(diary.desk), now=NOW)
    with nothing_written():
        refused = cancel(desk, booking)
    assert refused.status_code == 409
    assert "This visit is “cancelled” now, so that cannot be done." in refused.content.decode()


def test_wrong_method(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    assert desk.get(reverse("booking_cancel", kwargs={"pk": booking.pk})).status_code == 405


@pytest.mark.parametrize("act", ["erase", "book", "tablets"])
def test_an_act_that_is_none(diary: Cast, desk: Client, act: str) -> None:
    booking = book(diary, at(9))
    with nothing_written():
        assert press(desk, booking, act).status_code == 404


def test_somebody_else_was_faster(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    actions.cancel(booking=booking, by="patient", reason="", actor=actor_of(diary.desk), now=NOW)
    with nothing_written():
        late = press(desk, booking, "arrive")
    assert late.status_code == 409
    assert "This visit is “cancelled” now" in late.content.decode()
    with nothing_written():
        again = cancel(desk, booking, by="patient")
    assert again.status_code == 409
    assert "This visit is “cancelled” now" in again.content.decode()


def test_a_pencilled_visit_says_until_when_it_is_held(diary: Cast, desk: Client) -> None:
    page = show(desk, pencil(diary, at(9)))
    assert "held until" in page.content.decode()
    assert "Wed 4 Mar 2026, 09:00" in page.content.decode()
    assert acts(page) == ["confirm"]


def test_an_old_page_cancels_no_visit_that_was_moved_meanwhile(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    seen = str(booking.version)
    moved = actions.move(booking=booking, start_at=at(11), actor=actor_of(diary.desk), now=NOW)
    with nothing_written():
        page = cancel(desk, moved, by="patient", version=seen)
    assert page.status_code == 409
    assert "changed this visit after you opened this page" in page.content.decode()
    with nothing_written():
        assert cancel(desk, moved, by="patient", version="").status_code == 422
    # The page that says so holds the visit as it is now.
    assert f'name="version" value="{moved.version}"' in page.content.decode()
    assert cancel(desk, moved, by="patient").status_code == 302


def test_cancelling_and_taking_it_back(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    assert cancel(desk, booking, by="practice", reason="Room floods.").status_code == 302
    held = Booking.objects.get()
    assert (held.status, held.cancelled_by, held.cancel_reason) == ("cancelled", "practice", "Room floods.")
    assert acts(show(desk, booking)) == ["take-back"]
    assert press(desk, booking, "take-back").status_code == 302
    assert Booking.objects.get().status == Status.BOOKED
    waiting = DueMessage.objects.exclude(state=State.CANCELLED)
    assert [row.kind for row in waiting] == ["visit_confirmed"]


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "by"),
        ({"by": "weather"}, "by"),
        ({"by": "patient", "reason": "x" * 201}, "reason"),
        ({"by": "patient", "reason": "a\x00"}, "reason"),
    ],
)
def test_bad_input(diary: Cast, desk: Client, typed: dict[str, str], field: str) -> None:
    booking = book(diary, at(9))
    with nothing_written():
        page = cancel(desk, booking, **typed)
    assert page.status_code == 422
    assert set(page.context["form"].errors) == {field}


def test_handing_the_tablet_over_ends_the_staff_session(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    answer = desk.post(reverse("booking_tablet", kwargs={"pk": booking.pk}))
    assert answer.headers["Location"] == reverse("before_visit")
    assert LinkVisit.objects.get().known_at is not None
    page = desk.get(reverse("before_visit"))
    assert page.status_code == 200
    assert "Wed 4 Mar 2026, 09:00" in page.content.decode()
    assert desk.get(reverse("patients")).status_code == 302


def test_no_tablet_once_the_visit_is_over(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    Booking.objects.filter(pk=booking.pk).update(status=Status.FULFILLED)
    assert not show(desk, booking).context["can_hand_over"]
    with nothing_written():
        late = desk.post(reverse("booking_tablet", kwargs={"pk": booking.pk}))
    assert late.status_code == 409
    assert "nothing left to open" in late.content.decode()


def test_the_tablet_is_refused_two_hours_after(diary: Cast) -> None:
    booking = book(diary, at(9))
    for hour, status in ((11, 302), (12, 409)):
        with time_machine.travel(at(hour), tick=False):
            client = sign_in(diary.desk)
            assert client.post(reverse("booking_tablet", kwargs={"pk": booking.pk})).status_code == status
    assert booking.ends_at + timedelta(hours=2) == at(11, 35)


def test_who_is_still_here_gets_the_tablet_however_late_it_is(diary: Cast) -> None:
    """Of today only: a visit that nobody finished yesterday opens nothing."""
    booking = book(diary, at(9))
    Booking.objects.filter(pk=booking.pk).update(status=Status.CHECKED_IN)
    address = reverse("booking_tablet", kwargs={"pk": booking.pk})
    with time_machine.travel(at(16), tick=False):
        assert sign_in(diary.desk).post(address).status_code == 302
        assert PrivateLink.objects.latest("pk").closes_at == at(18)
    with time_machine.travel(at(16) + timedelta(days=1), tick=False):
        client = sign_in(diary.desk)
        with nothing_written():
            assert client.post(address).status_code == 409


@pytest.mark.parametrize("act", ["arrive", "check-in", "no-show", "finish"])
def test_from_an_old_page_nobody_is_here_for_a_visit_that_was_moved(diary: Cast, desk: Client, act: str) -> None:
    """The page says today; a colleague has moved the visit to tomorrow meanwhile."""
    booking = actions.move(
        booking=book(diary, at(9, day=NOW.date())), start_at=at(9), actor=actor_of(diary.clinician), now=NOW
    )
    with nothing_written():
        answer = press(desk, booking, act)
    assert answer.status_code == 409
    assert "This visit is Wed 4 Mar 2026, 09:00, so that cannot be said of it yet." in answer.content.decode()
