"""The patient says no, in the chair: one tap beside it, or one press on the page of the case."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from tests.whitening.chairside import chairs
from whitening.chairside.models import Session
from whitening.chairside.protocol import payloads as made
from whitening.consent.actions import withdraw
from whitening.consent.models import Withdrawal

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock", "quick_paper")]
BUTTON = "Withdraw the consent"


@pytest.fixture
def case(cast: Cast) -> Lived:
    case = lived.agreed(cast)
    lived.here(case)
    lived.started(case)
    return case


@pytest.fixture
def nurse(case: Lived) -> Client:
    return sign_in(case.cast.assistant)


def url(name: str) -> str:
    return reverse(name, args=[Session.objects.get().pk])


def tap(client: Client, **fields: object) -> Answer:
    return client.post(url("chairside_withdraw"), fields, headers={"X-Tap": "1"})


def signature(case: Lived) -> int:
    return int(case.case.signatures.order_by("-pk")[0].pk)


def test_one_tap_with_gel_on(case: Lived, nurse: Client) -> None:
    chairs.tapped(case.cast, Session.objects.get(), made.GelOn(cycle=1, mix=None))
    assert BUTTON in nurse.get(url("chairside")).content.decode()
    page = tap(nurse, a=signature(case))
    row = Withdrawal.objects.get()
    assert (page.status_code, row.withdrawn_by, row.withdrawn_at) == (200, case.cast.assistant.name, NOW)
    text = page.content.decode()
    for words in ("Stop: take the gel off.", "<li>Consent was withdrawn</li>", "signed anew"):
        assert words in text
    assert BUTTON not in text


def test_once_whoever_taps_it_and_however_often(case: Lived, nurse: Client) -> None:
    tap(nurse, a=signature(case))
    with nothing_written():
        again = tap(nurse, a=signature(case))
    assert again.status_code == 200
    assert "message-error" not in again.content.decode()


def test_signed_anew_a_tap_that_was_kept_meanwhile_says_nothing_of_it(case: Lived, nurse: Client) -> None:
    before = signature(case)
    withdraw(case=case.case, words="", actor=case.themselves, now=lived.MONDAY)
    lived.signed(case, at=NOW)
    with nothing_written():
        late = tap(nurse, a=before)
    assert late.status_code == 409
    assert "The patient has signed anew since." in late.content.decode()
    assert BUTTON in late.content.decode()
    tap(nurse, a=signature(case))
    assert Withdrawal.objects.count() == 2


@pytest.mark.parametrize("given", ["", "x", "9" * 40, "²"])
def test_a_page_without_scripts_or_with_nonsense(case: Lived, nurse: Client, given: str) -> None:
    """Who wants to stop is not held up by what a browser sends along."""
    answer = nurse.post(url("chairside_withdraw"), {"a": given})
    assert (answer.status_code, answer["Location"]) == (302, url("chairside"))
    assert Withdrawal.objects.get().signature_id == signature(case)


def test_a_locked_screen_withdraws_too(case: Lived, nurse: Client, clock: object) -> None:
    clock.move_to(chairs.minutes(10))  # type: ignore[attr-defined]  # the traveller of the fixture
    assert nurse.get(reverse("materials")).status_code == 302
    assert tap(nurse, a=signature(case)).status_code == 200
    assert Withdrawal.objects.count() == 1


def test_wrong_role_other_site_and_method(case: Lived) -> None:
    desk, elsewhere, nurse = (sign_in(getattr(case.cast, who)) for who in ("desk", "elsewhere", "assistant"))
    with nothing_written():
        assert tap(desk).status_code == 403
        assert tap(elsewhere).status_code == 404
        assert nurse.get(url("chairside_withdraw")).status_code == 405


def test_on_the_page_of_the_case_it_is_no_fold_away(case: Lived) -> None:
    """For everybody who is told of it, also while the plan was changed after the signature."""
    lived.planned(case, at=NOW, cycles_per_session=5)
    for who in (case.cast.desk, case.cast.assistant, case.cast.clinician):
        text = sign_in(who).get(reverse("case", args=[case.case.pk])).content.decode()
        before = text[: text.index(BUTTON)]
        assert before.count("<details") == before.count("</details")
    assert BUTTON not in sign_in(case.cast.manager).get(reverse("case", args=[case.case.pk])).content.decode()
