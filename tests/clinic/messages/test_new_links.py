"""A page that has closed offers a new link, to the known channel only."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.test import Client

from clinic.messages.models import DueMessage, Ended, PrivateLink
from clinic.messages.purposes import Window
from tests.cast import NOW
from tests.clinic.messages.entering import is_private, known
from tests.clinic.messages.writing import Wishes, later
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")


def test_a_new_link_goes_to_the_known_channel_only(address: str, phone: Client) -> None:
    PrivateLink.objects.update(ended_at=NOW, ended_because=Ended.NEWER)
    answer = phone.post(address + "new/")
    assert mail.outbox[1].to == ["amara@example.org"]
    unknown = Client().post("/p/l/" + "x" * 43 + "/new/")
    assert answer.status_code == unknown.status_code == 200
    assert is_private(answer)
    found = re.search(r"/p/l/\S+", str(mail.outbox[1].body))
    assert found is not None
    assert known(Client(), found[0]).get("/p/preferences/").status_code == 200


def test_new_links_are_limited(address: str, phone: Client, at_now: time_machine.Traveller) -> None:
    with nothing_written():
        phone.post("/p/l/" + "x" * 43 + "/new/")
    phone.post(address + "new/")
    with nothing_written():
        assert phone.post(address + "new/").status_code == 200
    for minutes in (10, 20, 30, 40):
        at_now.move_to(NOW + timedelta(minutes=minutes))
        phone.post(address + "new/")
    assert DueMessage.objects.filter(kind="new_link").count() == 3


def test_no_new_link_once_the_purpose_is_done(address: str, phone: Client, wishes: Wishes) -> None:
    wishes.window = None
    with nothing_written():
        assert phone.post(address + "new/").status_code == 200


def test_no_new_link_after_five_wrong_dates(address: str, phone: Client) -> None:
    PrivateLink.objects.update(ended_at=NOW, ended_because=Ended.BIRTH_TRIES, birth_tries=5)
    with nothing_written():
        phone.post(address + "new/")


def test_a_closed_window_can_be_renewed_from_the_cookie(address: str, phone: Client, wishes: Wishes) -> None:
    visitor = known(phone, address)
    PrivateLink.objects.update(ended_at=NOW, ended_because=Ended.NEWER)
    wishes.window = Window(opens_at=NOW, closes_at=later(days=60))
    assert "Send me a new link" in visitor.get("/p/preferences/").content.decode()
    visitor.post("/p/new/")
    assert len(mail.outbox) == 2
