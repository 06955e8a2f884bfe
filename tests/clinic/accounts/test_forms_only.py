"""An address that only takes forms, opened by itself: a page in the house look, with a way back."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.http import urlencode

from tests.cast import PASSWORD, Cast, sign_in
from tests.clinic.look.markup import Element, read
from tests.support import nothing_written


def page_of(content: bytes) -> Element:
    return read(content.decode())


def test_it_works(cast: Cast) -> None:
    """Reloading after a refused form: the browser asks for the address that the form was sent to."""
    client = sign_in(cast.desk)
    with nothing_written():
        answer = client.get(reverse("patient_look_alikes"))
    assert (answer.status_code, answer.headers["Allow"]) == (405, "POST")
    page = page_of(answer.content)
    assert page.one("h1").words == "This address shows no page"
    [link] = page.one("main").all("a")
    assert link.attributes["href"] == reverse("patients")


def test_what_lies_directly_under_the_first_page_leads_there(cast: Cast) -> None:
    page = page_of(sign_in(cast.desk).get(reverse("still_here")).content)
    assert page.one("main").all("a")[0].attributes["href"] == "/"


def test_a_script_gets_a_bare_refusal(cast: Cast) -> None:
    answer = sign_in(cast.desk).get(reverse("patient_look_alikes"), headers={"HX-Request": "true"})
    assert (answer.status_code, answer.headers["Allow"], answer.content) == (405, "POST", b"")
    answer = sign_in(cast.desk).delete(reverse("patients"))
    assert (answer.status_code, answer.content) == (405, b"")


def test_a_patients_browser_is_not_led_to_the_staffs_pages(db: None) -> None:
    answer = Client().get("/p/l/nobody-knows-this-one/new/")
    assert answer.status_code == 405
    assert page_of(answer.content).one("main").all("a")[0].attributes["href"] == "/p/l/nobody-knows-this-one/"
    answer = Client().get("/p/new/")
    assert answer.status_code == 405
    page = page_of(answer.content)
    assert page.one("main").all("a") == []
    assert "open the link in our message once more" in page.one("main").words


@pytest.mark.parametrize(
    ("asked", "leads_to"),
    [
        ("/patients/look-alikes/", "/patients/"),
        ("/account/site/", "/account/"),
        ("/patients/?q=bell", "/patients/?q=bell"),
    ],
)
def test_the_way_through_the_sign_in_leads_to_a_page(cast: Cast, asked: str, leads_to: str) -> None:
    client = Client()
    login = client.get(asked).headers["Location"]
    assert login == f"{reverse('account_login')}?{urlencode({'next': leads_to})}"
    answer = client.post(login, {"login": cast.desk.email, "password": PASSWORD, "next": leads_to})
    assert answer.headers["Location"] == leads_to


def test_a_kept_address_with_another_next_leads_to_the_first_page(cast: Cast) -> None:
    client = Client()
    typed = {"login": cast.desk.email, "password": PASSWORD, "next": reverse("patient_look_alikes")}
    answer = client.post(reverse("account_login"), typed)
    assert answer.headers["Location"] == reverse("today")


def test_opening_the_lock_leads_to_a_page(cast: Cast) -> None:
    client = sign_in(cast.desk)
    locked = client.post(reverse("lock"), {"next": reverse("patient_look_alikes")})
    assert locked.headers["Location"] == "/lock/?next=%2Fpatients%2F"
