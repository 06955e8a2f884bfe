"""`manage.py start_practice`: a fresh installation gets its practice once, under rules that somebody chose."""

import io
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from clinic.accounts.management.commands import start_practice
from clinic.accounts.models import Invitation, Membership, Practice, Role, Site, User
from clinic.trail.models import TrailEntry
from tests.support import nothing_written

OPTIONS = {
    "practice": "Fernbrook Dental Rooms",
    "name": "Fernbrook",
    "slug": "fernbrook",
    "jurisdiction": "UK",
    "country": "GB",
    "timezone": "Europe/London",
    "currency": "GBP",
    "emergency_number": "999",
    "manager_name": "Mara O’Neill",
    "manager_email": "Mara@example.org",
}

pytestmark = pytest.mark.django_db


def start(**changes: object) -> str:
    said = io.StringIO()
    call_command("start_practice", no_input=True, stdout=said, **OPTIONS | changes)
    return said.getvalue()


def test_it_works_with_a_link() -> None:
    said = start()
    site = Site.objects.get()
    assert (site.practice.name, site.jurisdiction, site.zone.key) == ("Fernbrook Dental Rooms", "UK", "Europe/London")
    invitation = Invitation.objects.get()
    assert (invitation.email, invitation.role, invitation.invited_by) == ("mara@example.org", Role.MANAGER, None)
    link = next(line for line in said.splitlines() if line.startswith("http://localhost/invitation/"))
    assert Client().get(link.removeprefix("http://localhost")).status_code == 200
    assert list(TrailEntry.objects.order_by("pk").values_list("verb", flat=True)) == [
        "accounts.practice_started",
        "accounts.site_opened",
        "accounts.person_invited",
    ]


def test_it_works_with_a_password(tmp_path: Path) -> None:
    (tmp_path / "password").write_text("four words in a row\n")
    said = start(password_file=str(tmp_path / "password"))
    assert "mara@example.org can sign in" in said
    mara = User.objects.get()
    assert mara.check_password("four words in a row")
    assert Membership.objects.get().role == Role.MANAGER
    client = Client()
    client.post(reverse("account_login"), {"login": mara.email, "password": "four words in a row"})
    assert client.get(reverse("setup")).headers["Location"] == reverse("mfa_activate_totp")


def test_a_second_time_says_so() -> None:
    start()
    with nothing_written(), pytest.raises(CommandError, match="already has its practice, “Fernbrook Dental Rooms”"):
        start(practice="Another")
    assert Practice.objects.count() == 1


def test_no_rules_chosen() -> None:
    with nothing_written(), pytest.raises(CommandError, match=r"--jurisdiction: Choose whose rules hold here: .*UK"):
        start(jurisdiction=None)


def test_unknown_rules() -> None:
    with nothing_written(), pytest.raises(CommandError, match="--jurisdiction"):
        start(jurisdiction="Atlantis")


def test_every_problem_is_named_at_once() -> None:
    with nothing_written(), pytest.raises(CommandError) as refused:
        start(timezone="Mars/Base", manager_email="mara", slug="no spaces")
    said = str(refused.value)
    assert "--timezone" in said
    assert "--manager-email" in said
    assert "--slug" in said


def test_a_weak_password(tmp_path: Path) -> None:
    (tmp_path / "password").write_text("password1234")
    with nothing_written(), pytest.raises(CommandError, match="--password: This password is too common"):
        start(password_file=str(tmp_path / "password"))


def test_a_password_file_that_is_not_there(tmp_path: Path) -> None:
    with nothing_written(), pytest.raises(CommandError, match="cannot be read: No such file"):
        start(password_file=str(tmp_path / "none"))


def test_it_asks_for_what_the_options_leave_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty answer is asked again where the program cannot go on without it."""
    answers = iter(["", "UK", "", "", ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", lambda _question: next(answers))
    monkeypatch.setattr(f"{start_practice.__name__}.getpass", lambda _question: "four words in a row")
    said = io.StringIO()
    options = {name: value for name, value in OPTIONS.items() if name != "jurisdiction"}
    call_command("start_practice", stdout=said, **options)
    assert "UK (" in said.getvalue()
    assert Site.objects.get().jurisdiction == "UK"
    assert User.objects.get().check_password("four words in a row")
