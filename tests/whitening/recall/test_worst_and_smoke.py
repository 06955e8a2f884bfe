"""Two questions for whoever calls back: how bad it was at its worst, and smoke. No rule rests on them."""

import pytest
from django.test import Client

from tests.support import nothing_written
from tests.whitening.recall.afterwards import WELL_POSTED
from whitening.recall.models import Reply

pytestmark = pytest.mark.django_db
HOW = "/p/how/"


def test_at_its_worst_it_cannot_have_been_less_than_now(page: Client) -> None:
    with nothing_written():
        answer = page.post(HOW, WELL_POSTED | {"sensitivity": "3", "worst": "2"})
    assert answer.status_code == 422
    assert "it cannot have been less than now" in answer.content.decode()


def test_a_contradiction_holds_nothing_up_that_cannot_wait(page: Client) -> None:
    answer = page.post(HOW, WELL_POSTED | {"sensitivity": "8", "worst": "2"}, follow=True)
    assert answer.status_code == 200
    assert Reply.objects.get().answers["sensitivity"] == 8


def test_who_smoked_hears_why_it_matters(page: Client) -> None:
    words = page.post(HOW, WELL_POSTED | {"smoke": "smoked"}, follow=True).content.decode()
    assert "Smoke can bring stains back" in words
    reply = Reply.objects.get()
    assert (reply.answers["smoke"], reply.answers["worst"], reply.urgency) == ("smoked", 2, 0)


def test_beside_a_worry_nobody_is_told_about_smoke(page: Client) -> None:
    words = page.post(HOW, WELL_POSTED | {"smoke": "smoked", "gums": "raw"}, follow=True).content.decode()
    assert "Smoke can bring stains back" not in words
