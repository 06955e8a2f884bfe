"""Forgotten, changed, asked for again."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from clinic.accounts.models import User
from clinic.trail.clock import real_now
from clinic.trail.models import TrailEntry
from tests.cast import PASSWORD, Cast, sign_in
from tests.clinic.accounts.support import full_sign_in, type_password
from tests.support import nothing_written

NEW = "a short walk by the sea"


@pytest.fixture(autouse=True)
def _fresh_limits(db: None) -> None:
    cache.clear()


def ask(client: Client, email: str, **extra: str) -> None:
    answer = client.post(reverse("account_reset_password"), {"email": email}, **extra)  # type: ignore[arg-type]
    assert answer.headers["Location"] == reverse("account_reset_password_done")


def link() -> str:
    found = re.search(r"http://localhost(/password/new/\S+)", str(mail.outbox[-1].body))
    assert found is not None
    return found[1]


def choose(client: Client, address: str, password: str = NEW) -> int:
    page = client.get(address, follow=True)
    if not page.redirect_chain:
        return page.status_code
    answer = client.post(page.redirect_chain[-1][0], {"password1": password, "password2": password})
    return answer.status_code


def test_it_works(client: Client, cast: Cast) -> None:
    elsewhere = sign_in(cast.desk)
    ask(client, "DANA@example.org")
    assert (mail.outbox[0].to, mail.outbox[0].subject) == ([cast.desk.email], "A new password for your sign-in")
    assert choose(client, link()) == 302
    assert User.objects.get(pk=cast.desk.pk).check_password(NEW)
    assert elsewhere.get(reverse("own_account")).status_code == 302  # every other session has ended
    assert client.get(reverse("own_account")).status_code == 302  # and nobody is signed in by a mail alone
    assert TrailEntry.objects.latest("pk").verb == "accounts.password_changed"
    assert mail.outbox[-1].subject == "Your password was set anew"
    type_password(client, cast.desk, NEW)
    assert client.get(reverse("own_account")).status_code == 200


def test_the_second_factor_is_still_asked(client: Client, cast: Cast) -> None:
    ask(client, cast.clinician.email)
    choose(client, link())
    assert type_password(client, cast.clinician, NEW).headers["Location"] == reverse("mfa_authenticate")


def test_a_mail_server_that_is_away_breaks_nothing(client: Client, cast: Cast, settings: Settings) -> None:
    settings.EMAIL_BACKEND = "tests.clinic.accounts.support.AwayBackend"
    ask(client, cast.desk.email)


def test_an_unknown_address_gets_no_mail_and_the_same_answer(client: Client, cast: Cast) -> None:
    with nothing_written():
        ask(client, "nobody@example.org")


def test_the_link_names_our_own_address(client: Client, cast: Cast) -> None:
    """Whatever Host the request carried (the settings admit 127.0.0.1 too)."""
    ask(client, cast.desk.email, HTTP_HOST="127.0.0.1")
    assert link().startswith("/password/new/")


def test_the_link_works_once(client: Client, cast: Cast) -> None:
    ask(client, cast.desk.email)
    address = link()
    choose(client, address)
    page = Client().get(address)
    assert "This link no longer works" in page.content.decode()


def test_the_link_works_for_two_hours(client: Client, cast: Cast) -> None:
    ask(client, cast.desk.email)
    with time_machine.travel(real_now() + timedelta(hours=2, seconds=2)):
        assert "This link no longer works" in client.get(link()).content.decode()


def test_the_key_leaves_the_address_bar(client: Client, cast: Cast) -> None:
    ask(client, cast.desk.email)
    answer = client.get(link())
    assert answer.headers["Location"].endswith("-set-password/")


@pytest.mark.parametrize("password", ["short", "123456789012", "dana@example.org"])
def test_a_weak_password_is_refused(client: Client, cast: Cast, password: str) -> None:
    ask(client, cast.desk.email)
    assert choose(client, link(), password) == 200
    assert User.objects.get(pk=cast.desk.pk).check_password(PASSWORD)


def test_changing_it_signs_out_everywhere(cast: Cast) -> None:
    client, other = full_sign_in(Client(), cast.desk, factor=False), sign_in(cast.desk)
    form = {"oldpassword": PASSWORD, "password1": NEW, "password2": NEW}
    assert client.post(reverse("account_change_password"), form).status_code == 302
    assert client.get(reverse("own_account")).status_code == 302
    assert other.get(reverse("own_account")).status_code == 302


def test_changing_it_needs_the_old_one(cast: Cast) -> None:
    client = full_sign_in(Client(), cast.desk, factor=False)
    with nothing_written():
        client.post(reverse("account_change_password"), {"oldpassword": "x", "password1": NEW, "password2": NEW})


def test_a_delicate_page_asks_again_later_in_the_day(cast: Cast) -> None:
    start = real_now()
    with time_machine.travel(start, tick=False):
        client = sign_in(cast.desk)
        assert client.get(reverse("mfa_activate_totp")).status_code == 200
    for minutes in (4, 8):
        with time_machine.travel(start + timedelta(minutes=minutes), tick=False):
            client.post(reverse("still_here"))
    with time_machine.travel(start + timedelta(minutes=11), tick=False):
        answer = client.get(reverse("mfa_activate_totp"))
        assert answer.headers["Location"].startswith(reverse("account_reauthenticate"))
        client.post(answer.headers["Location"], {"password": PASSWORD})
        assert client.get(reverse("mfa_activate_totp")).status_code == 200


def test_too_many_requests_have_a_page_of_their_own(client: Client, cast: Cast) -> None:
    for _try in range(5):
        ask(client, cast.desk.email)
    answer = client.post(reverse("account_reset_password"), {"email": cast.desk.email})
    assert answer.status_code == 429
    assert "Wait five minutes" in answer.content.decode()
    assert len(mail.outbox) == 5
