"""A colleague comes in: invited by a manager, by a link that works once."""

import re
from datetime import timedelta

import pytest
import time_machine
from allauth.account.models import EmailAddress
from django.core import mail
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from clinic.accounts.actions import invitations
from clinic.accounts.models import Invitation, Role, User
from clinic.accounts.refusals import InvitationClosed
from clinic.trail.clock import real_now
from clinic.trail.models import TrailEntry
from tests.cast import Cast, sign_in
from tests.support import nothing_written

SAM = {"name": "Sam Brook", "email": "Sam@Example.org", "role": "clinician"}
JOIN = {
    "name": "Sam Brook",
    "password": "four words in a row",
    "again": "four words in a row",
    "pin": "7301",
    "language": "en",
}


@pytest.fixture
def link(cast: Cast, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks) -> str:
    with django_capture_on_commit_callbacks(execute=True):
        sign_in(cast.manager).post(reverse("invite"), SAM)
    assert Invitation.objects.get().mailed_at is not None
    return address_in(mail.outbox[0])


def address_in(letter: mail.EmailMessage) -> str:
    found = re.search(r"http://localhost(/invitation/\S+)", str(letter.body))
    assert found is not None
    return found[1]


def test_it_works(cast: Cast, link: str) -> None:
    client = Client()
    assert "sam@example.org" in client.get(link).content.decode()
    answer = client.post(link, JOIN)
    assert answer.headers["Location"] == reverse("account_login")
    sam = User.objects.get(email="sam@example.org")
    assert (sam.name, sam.initials, sam.language) == ("Sam Brook", "SB", "en")
    assert sam.roles_at(cast.fernbrook) == {Role.CLINICIAN}
    assert not sam.may_examine_and_decide
    assert EmailAddress.objects.get(user=sam).verified
    verbs = list(TrailEntry.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs[-2:] == ["accounts.person_invited", "accounts.invitation_accepted"]


def test_the_mail_goes_to_the_colleague(cast: Cast, link: str) -> None:
    message = mail.outbox[0]
    assert message.to == ["sam@example.org"]
    assert message.subject == "Your sign-in for Fernbrook Dental Rooms"
    assert "Mara O’Neill invites you" in message.body


def test_only_the_hash_is_kept(cast: Cast, link: str) -> None:
    token = link.rstrip("/").rpartition("/")[2]
    held = Invitation.objects.get()
    assert len(token) == 43  # 32 bytes
    assert held.token_hash == invitations.hash_of(token)
    assert token not in str(vars(held))


def test_looking_uses_nothing_up(cast: Cast, link: str) -> None:
    """Mail scanners follow links."""
    for _look in range(3):
        with nothing_written():
            assert Client().get(link).status_code == 200


def test_it_works_once(cast: Cast, link: str) -> None:
    Client().post(link, JOIN)
    with nothing_written():
        answer = Client().post(link, JOIN)
    assert answer.status_code == 410
    assert "Ask a manager for a new one." in answer.content.decode()


def test_it_is_open_for_three_days(cast: Cast, link: str) -> None:
    with time_machine.travel(real_now() + timedelta(hours=72, seconds=1)), nothing_written():
        assert Client().post(link, JOIN).status_code == 410


def test_taken_back(cast: Cast, link: str) -> None:
    held = Invitation.objects.get()
    sign_in(cast.manager).post(reverse("invitation_revoke", kwargs={"pk": held.pk}))
    assert Client().get(link).status_code == 410


def test_sent_again_the_old_link_is_dead(
    cast: Cast, link: str, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    held = Invitation.objects.get()
    with django_capture_on_commit_callbacks(execute=True):
        sign_in(cast.manager).post(reverse("invitation_again", kwargs={"pk": held.pk}))
    assert len(mail.outbox) == 2
    assert Client().get(link).status_code == 410
    assert Client().get(address_in(mail.outbox[1])).status_code == 200


def test_a_mail_server_that_is_away_is_told(
    cast: Cast, settings: Settings, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    settings.EMAIL_BACKEND = "tests.clinic.accounts.support.AwayBackend"
    client = sign_in(cast.manager)
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("invite"), SAM)
    assert Invitation.objects.get().mailed_at is None
    page = client.get(reverse("people")).content.decode()
    assert "The mail server did not take the letter." in page
    assert "not sent" in page


def test_an_altered_link(cast: Cast, link: str) -> None:
    with nothing_written():
        assert Client().get(link[:-3] + "xy/").status_code == 410


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"again": "four words in a raw"}, "The two passwords differ."),
        ({"password": "short", "again": "short"}, "at least 12 characters"),
        ({"password": "sam@example.org", "again": "sam@example.org"}, "too similar"),
        ({"pin": "731"}, "four to eight digits"),
        ({"name": ""}, "Type your name."),
        ({"name": "Sam\x00Brook"}, "character in it that cannot be kept"),
    ],
)
def test_bad_input(cast: Cast, link: str, change: dict[str, str], sentence: str) -> None:
    with nothing_written():
        answer = Client().post(link, JOIN | change)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_wrong_role(cast: Cast) -> None:
    client = sign_in(cast.clinician)
    with nothing_written():
        assert client.post(reverse("invite"), SAM).status_code == 403


def test_other_site(cast: Cast, link: str) -> None:
    held = Invitation.objects.get()
    client = sign_in(cast.elsewhere)
    with nothing_written():
        assert client.post(reverse("invitation_revoke", kwargs={"pk": held.pk})).status_code == 403


def test_wrong_method(cast: Cast, link: str) -> None:
    assert Client().delete(link).status_code == 405


def test_somebody_who_works_here_is_not_invited_again(cast: Cast) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        answer = client.post(reverse("invite"), SAM | {"email": "DANA@example.org"})
    assert answer.status_code == 422
    assert "works here already" in answer.content.decode()


def test_an_open_invitation_is_not_doubled(cast: Cast, link: str) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        assert client.post(reverse("invite"), SAM).status_code == 422


def test_of_two_with_one_link_one_gets_in(cast: Cast, link: str) -> None:
    """The second finds the row taken although its look came before: the update decides, not the look."""
    token = link.rstrip("/").rpartition("/")[2]
    person = invitations.NewPerson(name="Sam", password="four words in a row", pin_hash="", language="en")
    invitations.accept(token=token, person=person, now=real_now())
    with pytest.raises(InvitationClosed):
        invitations.accept(token=token, person=person, now=real_now())
    assert User.objects.filter(email="sam@example.org").count() == 1


def test_initials() -> None:
    names = ["Sam Brook", "Ana Maria de Souza", "Zoë", "Søren Óskarsson"]
    assert [invitations.initials_of(name) for name in names] == ["SB", "AS", "Z", "SÓ"]
