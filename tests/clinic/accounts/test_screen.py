"""The screen lock, its PIN, two people at one screen, and how long a sign-in lasts."""

from collections.abc import Mapping
from datetime import timedelta

import pytest
import time_machine
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse

from clinic.accounts.doors import Door, door_of, staff
from clinic.accounts.middleware import IdleLock
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from clinic.trail.clock import real_now
from tests.answer import Answer
from tests.cast import PASSWORD, PIN, Cast, sign_in
from tests.clinic.accounts.support import full_sign_in, type_password
from tests.support import nothing_written

MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def _fresh_limits(db: None) -> None:
    cache.clear()


def page(client: Client, **headers: str) -> Answer:
    return client.get(reverse("own_account"), headers=headers)


def unlock(client: Client, typed: str, **more: str) -> Answer:
    return client.post(reverse("unlock"), {"typed": typed, **more})


def test_it_works(cast: Cast) -> None:
    client = sign_in(cast.desk)
    client.post(reverse("lock"), {"next": "/account/pin/"})
    locked = page(client)
    assert locked.headers["Location"] == "/lock/?next=%2Faccount%2F"
    assert "Locked by Dana" in client.get(reverse("lock")).content.decode()
    assert unlock(client, PIN, next="/account/").headers["Location"] == "/account/"
    assert page(client).status_code == 200


def test_the_password_opens_it_too(cast: Cast) -> None:
    client = sign_in(cast.desk)
    client.post(reverse("lock"))
    assert unlock(client, PASSWORD).status_code == 302
    assert page(client).status_code == 200


def test_idle_locks_after_five_minutes(cast: Cast) -> None:
    start = real_now()
    with time_machine.travel(start, tick=False):
        client = sign_in(cast.desk)
    with time_machine.travel(start + 5 * MINUTE - timedelta(seconds=1), tick=False):
        assert page(client).status_code == 200
    with time_machine.travel(start + 9 * MINUTE, tick=False):
        assert page(client).status_code == 200
    with time_machine.travel(start + 14 * MINUTE, tick=False):
        assert page(client).status_code == 302
        assert client.get(reverse("lock")).status_code == 200


def test_what_a_page_asks_by_itself_keeps_nothing_awake(cast: Cast) -> None:
    start = real_now()
    with time_machine.travel(start, tick=False):
        client = sign_in(cast.desk)
    for minutes in (2, 3, 4):
        with time_machine.travel(start + minutes * MINUTE, tick=False):
            assert page(client, x_background="1").status_code == 200
    with time_machine.travel(start + 5 * MINUTE, tick=False):
        assert page(client, x_background="1").status_code == 302


def test_a_part_of_a_page_sends_the_whole_page_to_the_lock(cast: Cast) -> None:
    client = sign_in(cast.desk)
    client.post(reverse("lock"))
    answer = page(client, hx_request="true", hx_current_url="http://testserver/account/pin/")
    assert answer.status_code == 200
    assert answer.headers["HX-Redirect"] == "/lock/?next=%2Faccount%2Fpin%2F"


def test_typing_on_a_page_that_asks_for_nothing_keeps_it_awake(cast: Cast) -> None:
    start = real_now()
    with time_machine.travel(start, tick=False):
        client = sign_in(cast.desk)
    with time_machine.travel(start + 4 * MINUTE, tick=False):
        assert client.post(reverse("still_here")).status_code == 204
    with time_machine.travel(start + 8 * MINUTE, tick=False):
        assert page(client).status_code == 200


def test_activity_is_saved_at_most_once_a_minute(cast: Cast) -> None:
    start = real_now()
    with time_machine.travel(start, tick=False):
        client = sign_in(cast.desk)
        page(client)
        first = client.session["active_at"]
    with time_machine.travel(start + timedelta(seconds=59), tick=False):
        page(client)
        assert client.session["active_at"] == first
    with time_machine.travel(start + timedelta(seconds=60), tick=False):
        page(client)
        assert client.session["active_at"] == first + 60


def test_a_sign_in_ends_after_eight_hours(cast: Cast) -> None:
    start = real_now()
    with time_machine.travel(start, tick=False):
        client = sign_in(cast.desk)
    for minutes in range(4, 8 * 60, 4):
        with time_machine.travel(start + minutes * MINUTE, tick=False):
            assert client.post(reverse("still_here")).status_code == 204
    with time_machine.travel(start + 8 * 60 * MINUTE, tick=False):
        answer = page(client)
    assert answer.headers["Location"] == "/sign-in/?next=%2Faccount%2F"
    assert "_auth_user_id" not in client.session


def test_four_wrong_pins_are_counted_and_the_fifth_asks_for_a_full_sign_in(cast: Cast) -> None:
    client = sign_in(cast.desk)
    client.post(reverse("lock"))
    for left in (4, 3, 2, 1):
        answer = unlock(client, "0000")
        assert answer.status_code == 422
        assert f"Tries left before a full sign-in: {left}." in answer.content.decode()
    assert unlock(client, "0000").headers["Location"] == reverse("account_login")
    assert "_auth_user_id" not in client.session
    assert User.objects.get(pk=cast.desk.pk).pin_failures == 5


def test_after_five_wrong_ones_the_right_pin_opens_nothing(cast: Cast) -> None:
    User.objects.filter(pk=cast.desk.pk).update(pin_failures=5)
    client = sign_in(cast.desk)
    client.post(reverse("lock"))
    assert unlock(client, PIN).headers["Location"] == reverse("account_login")


def test_a_full_sign_in_gives_the_five_tries_back(cast: Cast) -> None:
    User.objects.filter(pk=cast.desk.pk).update(pin_failures=5)
    client = full_sign_in(Client(), cast.desk, factor=False)
    client.post(reverse("lock"))
    assert unlock(client, PIN).status_code == 302
    assert page(client).status_code == 200


def test_a_locked_screen_does_nothing(cast: Cast) -> None:
    client = sign_in(cast.manager)
    client.post(reverse("lock"))
    with nothing_written():
        answer = client.post(reverse("person_end", kwargs={"pk": cast.desk.pk}))
    assert answer.status_code == 303
    assert answer.headers["Location"] == reverse("lock")


def test_a_way_back_leads_out_of_no_house(cast: Cast) -> None:
    client = sign_in(cast.desk)
    client.post(reverse("lock"))
    assert unlock(client, PIN, next="https://evil.example.net/").headers["Location"].startswith("/")


def share_a_screen(cast: Cast) -> Client:
    """The clinician signed in, then made room for the assistant, both in full."""
    client = full_sign_in(Client(), cast.clinician)
    client.post(reverse("somebody_else"))
    assert "_auth_user_id" not in client.session
    return full_sign_in(client, cast.assistant, factor=False)


def take_over(client: Client, user: User, pin: str = PIN) -> Answer:
    return client.post(reverse("take_over"), {"person": user.pk, "pin": pin})


def test_two_people_share_a_screen_by_pin(cast: Cast) -> None:
    client = share_a_screen(cast)
    client.post(reverse("lock"))
    assert "Go on as Cleo" in client.get(reverse("lock")).content.decode()
    key = client.session.session_key
    assert take_over(client, cast.clinician).status_code == 302
    assert client.session.session_key != key
    assert client.session["_auth_user_id"] == str(cast.clinician.pk)
    assert page(client).status_code == 200  # the second factor was shown this morning
    assert take_over(client, cast.assistant).status_code == 302
    assert client.session["_auth_user_id"] == str(cast.assistant.pk)


def test_the_others_clock_goes_on(cast: Cast) -> None:
    start = real_now()
    with time_machine.travel(start, tick=False):
        client = share_a_screen(cast)
    with time_machine.travel(start + 8 * 60 * MINUTE - MINUTE, tick=False):
        client.post(reverse("unlock"), {"typed": PIN})
        take_over(client, cast.clinician)
        assert client.session["_auth_user_id"] == str(cast.clinician.pk)
    with time_machine.travel(start + 8 * 60 * MINUTE, tick=False):
        page(client)
    assert "_auth_user_id" not in client.session


def test_nobody_takes_over_who_has_not_signed_in_here(cast: Cast) -> None:
    client = sign_in(cast.desk)
    client.post(reverse("lock"))
    assert take_over(client, cast.assistant).headers["Location"] == reverse("lock")
    assert "has not signed in at this screen today" in client.get(reverse("lock")).content.decode()
    assert client.session["_auth_user_id"] == str(cast.desk.pk)


def test_a_wrong_pin_takes_nothing_over(cast: Cast) -> None:
    client = share_a_screen(cast)
    answer = take_over(client, cast.clinician, "0000")
    assert answer.status_code == 422
    assert "That is not the PIN." in answer.content.decode()
    assert take_over(client, cast.clinician, PASSWORD[:8]).status_code == 422
    assert client.session["_auth_user_id"] == str(cast.assistant.pk)


def test_ended_access_empties_the_seat(cast: Cast) -> None:
    client = share_a_screen(cast)
    User.objects.filter(pk=cast.clinician.pk).update(sessions_ended=1)
    take_over(client, cast.clinician)
    assert client.session["_auth_user_id"] == str(cast.assistant.pk)


def test_signing_out_empties_the_bench(cast: Cast) -> None:
    client = share_a_screen(cast)
    client.post(reverse("account_logout"))
    type_password(client, cast.assistant)
    take_over(client, cast.clinician)
    assert client.session["_auth_user_id"] == str(cast.assistant.pk)


def test_an_open_treatment_stays_in_reach(cast: Cast) -> None:
    """A view that says so for these arguments is reached although the screen is locked, and only then."""

    def is_open(_request: HttpRequest, arguments: Mapping[str, object]) -> bool:
        return arguments["pk"] == 7

    @staff(Capability.CHAIRSIDE_RECORD, while_locked=is_open)
    def chair(_request: HttpRequest, pk: int) -> HttpResponse:
        return HttpResponse(str(pk))

    client = sign_in(cast.assistant)
    client.post(reverse("lock"))
    request = RequestFactory().get("/chair/")
    vars(request).update(session=client.session, user=cast.assistant, htmx=False)
    idle = IdleLock(lambda _request: HttpResponse())
    assert idle.process_view(request, chair, (), {"pk": 7}) is None
    refused = idle.process_view(request, chair, (), {"pk": 8})
    assert refused is not None
    assert refused.headers["Location"].startswith("/lock/")


def test_a_door_says_what_it_admits() -> None:
    door = Door(kind="staff", methods=("GET",))
    assert [method for method in ("GET", "HEAD", "POST", "OPTIONS", None) if door.admits(method)] == ["GET", "HEAD"]
    assert door_of(lambda: None) is None


@pytest.mark.parametrize("pin", ["1111", "1234", "9876", "12345678", "0987"])
def test_a_simple_pin_is_refused(cast: Cast, pin: str) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        answer = client.post(reverse("pin"), {"pin": pin, "again": pin, "password": PASSWORD})
    assert answer.status_code == 422
    assert "harder to guess" in answer.content.decode()


def test_a_new_pin_opens_the_lock(cast: Cast) -> None:
    client = sign_in(cast.desk)
    assert client.post(reverse("pin"), {"pin": "7301", "again": "7301", "password": PASSWORD}).status_code == 302
    client.post(reverse("lock"))
    assert unlock(client, PIN).status_code == 422
    assert unlock(client, "7301").status_code == 302


def test_a_new_pin_needs_the_password(cast: Cast) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        answer = client.post(reverse("pin"), {"pin": "7301", "again": "7301", "password": "wrong"})
    assert answer.status_code == 422
