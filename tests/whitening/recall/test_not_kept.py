"""A full disk, a database that only reads: whom to call does not wait for it."""

import pytest
from django.db import OperationalError
from django.test import Client

from tests.support import nothing_written
from tests.whitening.recall.afterwards import WELL_POSTED
from whitening.recall.models import Reply

pytestmark = pytest.mark.django_db
HOW = "/p/how/"


@pytest.fixture(autouse=True)
def _refused(page: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_args: object, **_rest: object) -> None:
        raise OperationalError("database or disk is full")

    monkeypatch.setattr(Reply.objects, "create", full)


def test_an_emergency_still_names_the_number_first(page: Client) -> None:
    with nothing_written():
        answer = page.post(HOW, WELL_POSTED | {"swelling": "yes"})
    assert answer.status_code == 503
    html = answer.content.decode()
    assert "Call 999 now" in html
    assert html.index('href="tel:999"') < html.index("could not be kept just now")
    assert "We call you" not in html


def test_nobody_is_promised_a_call(page: Client) -> None:
    with nothing_written():
        html = page.post(HOW, WELL_POSTED | {"satisfaction": "1"}).content.decode()
    assert "Please tell us again, or call us" in html
    assert "We call you" not in html
    assert 'href="tel:+442079460100"' in html


def test_also_when_all_is_well(page: Client) -> None:
    with nothing_written():
        answer = page.post(HOW, {"all_well": "1"})
    assert answer.status_code == 503
    assert "Good to hear" not in answer.content.decode()
