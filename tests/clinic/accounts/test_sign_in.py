"""Signing in with password and second factor; signing out; what the browser may keep."""

import pytest
from allauth.core.context import request_context
from allauth.mfa.models import Authenticator
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoCaptureOnCommitCallbacks

from clinic.accounts.models import Membership, User
from clinic.accounts.sessions import FACTOR
from clinic.trail.models import TrailEntry
from tests.cast import PASSWORD, TOTP_SECRET, Cast, sign_in
from tests.clinic.accounts.support import full_sign_in, type_password
from tests.clinic.accounts.totp import totp
from tests.support import nothing_written


@pytest.fixture(autouse=True)
def _fresh_limits(db: None) -> None:
    cache.clear()


def verbs() -> list[str]:
    return list(TrailEntry.objects.order_by("pk").values_list("verb", flat=True))


def test_the_codes_are_those_of_rfc_6238() -> None:
    """RFC 6238, appendix B, SHA-1, eight digits."""
    assert totp(TOTP_SECRET, at=59, digits=8) == "94287082"
    assert totp(TOTP_SECRET, at=1111111109, digits=8) == "07081804"
    assert totp(TOTP_SECRET, at=20000000000, digits=8) == "65353130"


def test_it_works(client: Client, cast: Cast) -> None:
    answer = type_password(client, cast.desk)
    assert answer.status_code == 302
    assert client.get(reverse("own_account")).status_code == 200
    assert verbs()[-1] == "accounts.signed_in"


def test_with_a_second_factor(client: Client, cast: Cast) -> None:
    answer = type_password(client, cast.clinician)
    assert answer.headers["Location"] == reverse("mfa_authenticate")
    assert client.get(reverse("own_account")).status_code == 302
    shown = client.post(reverse("mfa_authenticate"), {"code": totp(TOTP_SECRET)})
    assert shown.status_code == 302
    assert client.session[FACTOR] is True
    assert client.get(reverse("own_account")).status_code == 200


def test_a_code_works_once(cast: Cast) -> None:
    code = totp(TOTP_SECRET)
    first, second = Client(), Client()
    type_password(first, cast.clinician)
    type_password(second, cast.clinician)
    assert first.post(reverse("mfa_authenticate"), {"code": code}).status_code == 302
    assert second.post(reverse("mfa_authenticate"), {"code": code}).status_code == 200
    assert second.get(reverse("own_account")).status_code == 302


def test_wrong_password(client: Client, cast: Cast) -> None:
    answer = type_password(client, cast.desk, "wrong")
    assert answer.status_code == 200
    assert "not correct" in answer.content.decode()
    assert verbs()[-1] == "accounts.sign_in_failed"


def test_an_unknown_address_is_told_the_same(client: Client, cast: Cast) -> None:
    known = type_password(client, cast.desk, "wrong")
    with nothing_written():
        unknown = client.post(reverse("account_login"), {"login": "nobody@example.org", "password": "wrong"})
    assert known.context["form"].errors == unknown.context["form"].errors


def test_five_wrong_passwords_close_the_address_for_a_while(client: Client, cast: Cast) -> None:
    for _try in range(5):
        type_password(client, cast.desk, "wrong")
    answer = type_password(client, cast.desk)
    assert answer.status_code == 200
    assert "_auth_user_id" not in client.session


def test_a_clinician_without_a_factor_is_sent_to_enrol(client: Client, cast: Cast) -> None:
    Authenticator.objects.all().delete()
    type_password(client, cast.clinician)
    answer = client.get(reverse("own_account"))
    assert answer.headers["Location"] == reverse("mfa_activate_totp")


def test_enrolment(
    client: Client, cast: Cast, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    Authenticator.objects.all().delete()
    type_password(client, cast.clinician)
    page = client.get(reverse("mfa_activate_totp"))
    assert page.status_code == 200
    assert 'src="data:image/svg+xml;base64,' in page.content.decode()
    assert '<path fill="#fff"' in page.context["totp_svg"]
    secret = page.context["form"].secret
    with django_capture_on_commit_callbacks() as left_for_later:
        answer = client.post(reverse("mfa_activate_totp"), {"code": totp(secret)})
    # In a test the commit comes after the response; the library then asks for the request it was in.
    with request_context(answer.wsgi_request):
        for callback in left_for_later:
            callback()
    assert answer.headers["Location"] == reverse("mfa_view_recovery_codes")
    codes = client.get(reverse("mfa_view_recovery_codes"))
    assert len(codes.context["unused_codes"]) == 10
    assert client.get(reverse("own_account")).status_code == 200
    assert "accounts.factor_added" in verbs()
    assert [(message.to, message.subject) for message in mail.outbox] == [
        (["cleo@example.org"], "A second factor was set up")
    ]


def test_secrets_lie_encrypted(client: Client, cast: Cast) -> None:
    Authenticator.objects.all().delete()
    type_password(client, cast.clinician)
    secret = client.get(reverse("mfa_activate_totp")).context["form"].secret
    client.post(reverse("mfa_activate_totp"), {"code": totp(secret)})
    stored = {one.type: str(one.data) for one in Authenticator.objects.filter(user=cast.clinician)}
    assert set(stored) == {"totp", "recovery_codes"}
    assert secret not in stored["totp"]
    assert secret not in str(client.session.items())
    seed = Authenticator.objects.get(type="recovery_codes").wrap()
    assert not any(code in stored["recovery_codes"] for code in seed.get_unused_codes())


def test_a_recovery_code_opens_once(cast: Cast) -> None:
    client = full_sign_in(Client(), cast.clinician)
    client.post(reverse("mfa_generate_recovery_codes"))
    code = client.get(reverse("mfa_view_recovery_codes")).context["unused_codes"][0]
    other = Client()
    type_password(other, cast.clinician)
    assert other.post(reverse("mfa_authenticate"), {"code": code}).status_code == 302
    third = Client()
    type_password(third, cast.clinician)
    assert third.post(reverse("mfa_authenticate"), {"code": code}).status_code == 200


def test_a_clinician_cannot_drop_the_factor(cast: Cast) -> None:
    client = full_sign_in(Client(), cast.clinician)
    with nothing_written():
        client.post(reverse("mfa_deactivate_totp"))
    assert Authenticator.objects.filter(user=cast.clinician).exists()


def test_a_factor_set_up_elsewhere_must_be_shown(client: Client, cast: Cast) -> None:
    """Signed in with the password alone, in a session that is older than the second factor."""
    client.force_login(cast.manager)
    answer = client.get(reverse("own_account"))
    assert answer.headers["Location"] == reverse("account_login")
    assert "_auth_user_id" not in client.session


def test_a_password_alone_shows_nothing_about_a_factor(client: Client, cast: Cast) -> None:
    """Else a stolen password-only session could read the recovery codes."""
    client.force_login(cast.manager)
    assert client.get(reverse("mfa_view_recovery_codes")).headers["Location"] == reverse("account_login")


def test_looking_at_the_set_up_page_proves_no_factor(client: Client, cast: Cast) -> None:
    client.force_login(cast.manager)
    client.get(reverse("mfa_activate_totp"))
    client.post(reverse("mfa_activate_totp"), {"code": "000000"})
    assert client.get(reverse("own_account")).status_code == 302


def test_signing_out_clears_the_browser(cast: Cast) -> None:
    client = sign_in(cast.desk)
    answer = client.post(reverse("account_logout"))
    assert answer.headers["Clear-Site-Data"] == '"cache", "cookies", "storage"'
    assert client.get(reverse("own_account")).status_code == 302
    assert verbs()[-1] == "accounts.signed_out"


def test_a_look_at_the_sign_out_page_signs_nobody_out(cast: Cast) -> None:
    client = sign_in(cast.desk)
    assert client.get(reverse("account_logout")).status_code == 200
    assert client.get(reverse("own_account")).status_code == 200


def test_ended_access_ends_the_session(cast: Cast) -> None:
    client = sign_in(cast.desk)
    User.objects.filter(pk=cast.desk.pk).update(is_active=False)
    assert client.get(reverse("own_account")).status_code == 302
    assert type_password(Client(), cast.desk).status_code != 200 or "_auth_user_id" not in client.session


def test_a_person_without_a_site_comes_no_further_than_the_door(cast: Cast) -> None:
    Membership.objects.filter(user=cast.desk).delete()
    assert sign_in(cast.desk).get(reverse("own_account")).status_code == 403


def test_nothing_is_kept_of_a_page(cast: Cast) -> None:
    headers = sign_in(cast.desk).get(reverse("own_account")).headers
    assert "no-store" in headers["Cache-Control"]
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "camera=()" in headers["Permissions-Policy"]
    assert headers["X-Frame-Options"] == "DENY"
    assert "default-src 'none'" in headers["Content-Security-Policy"]


def test_sign_up_has_no_address(client: Client, cast: Cast) -> None:
    for path in ("/signup/", "/sign-up/", "/accounts/signup/", "/accounts/email/", "/accounts/social/connections/"):
        assert client.get(path).status_code == 404


def test_a_forged_way_back_leads_nowhere_else(client: Client, cast: Cast) -> None:
    answer = client.post(
        reverse("account_login"),
        {"login": cast.desk.email, "password": PASSWORD, "next": "https://evil.example.net/"},
    )
    assert "example.net" not in answer.headers["Location"]
