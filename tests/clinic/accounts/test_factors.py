"""After a change of keys the second factors still work, and nothing needs the old key."""

from pathlib import Path

import pytest
from allauth.mfa.models import Authenticator
from cryptography.fernet import InvalidToken
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from clinic.trail.fields import open_text, seal_text
from tests.cast import Cast
from tests.clinic.accounts.support import full_sign_in, type_password
from tests.clinic.accounts.totp import totp

pytestmark = pytest.mark.django_db
NEWER = "bmV3LWZpZWxkLWtleS1mb3ItdGhlc2UtdGVzdHMtMDI="


@pytest.fixture(autouse=True)
def keys_of_this_test(settings: Settings, tmp_path: Path) -> None:
    """Files are not rolled back: a key file under the newer key would be of no use to the next test."""
    settings.KEYS_DIR = tmp_path


def enrolled(cast: Cast) -> str:
    """A clinician with an app and ten recovery codes; the app's secret."""
    client = full_sign_in(Client(), cast.clinician)
    Authenticator.objects.filter(user=cast.clinician).delete()
    secret: str = client.get(reverse("mfa_activate_totp")).context["form"].secret
    assert client.post(reverse("mfa_activate_totp"), {"code": totp(secret)}).status_code == 302
    return secret


def test_it_works(cast: Cast, settings: Settings) -> None:
    secret, old = enrolled(cast), list(settings.FIELD_KEYS)
    recovery = Authenticator.objects.get(user=cast.clinician, type="recovery_codes")
    codes = recovery.wrap().get_unused_codes()
    recovery.wrap().validate_code(codes[0])
    settings.FIELD_KEYS = [NEWER, *old]
    call_command("rewrap_keys")
    settings.FIELD_KEYS = [NEWER]
    assert open_text(Authenticator.objects.get(user=cast.clinician, type="totp").data["secret"]) == secret
    recovery.refresh_from_db()
    assert recovery.wrap().get_unused_codes() == codes[1:]
    client = Client()
    type_password(client, cast.clinician)
    assert client.post(reverse("mfa_authenticate"), {"code": codes[1]}).status_code == 302


def test_without_it_the_old_key_is_still_needed(cast: Cast, settings: Settings) -> None:
    enrolled(cast)
    settings.FIELD_KEYS = [NEWER]
    with pytest.raises(InvalidToken):
        Authenticator.objects.get(user=cast.clinician, type="recovery_codes").wrap().get_unused_codes()


def test_codes_of_an_older_library_are_moved_too(cast: Cast, settings: Settings) -> None:
    kept = Authenticator.objects.create(
        user=cast.desk, type="recovery_codes", data={"migrated_codes": [seal_text("11112222"), seal_text("33334444")]}
    )
    settings.FIELD_KEYS = [NEWER, *settings.FIELD_KEYS]
    call_command("rewrap_keys")
    settings.FIELD_KEYS = [NEWER]
    kept.refresh_from_db()
    assert kept.wrap().get_unused_codes() == ["11112222", "33334444"]
