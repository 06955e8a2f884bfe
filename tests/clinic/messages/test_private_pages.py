"""The patient's way in: message, button, date of birth; and every way of not getting in."""

from datetime import timedelta
from http.cookies import Morsel

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.urls import reverse

from clinic.messages import links
from clinic.messages.models import DueMessage, Ended, LinkVisit, PrivateLink, State
from clinic.messages.sweep import sweep
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM
from tests.cast import NOW, Cast
from tests.clinic.messages.entering import BIRTH, CLOSED, is_private, known, opened
from tests.clinic.messages.writing import CHECK, PAGE, Planned, Wishes, later
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")


def test_it_works(address: str, phone: Client) -> None:
    page = phone.get(address)
    assert page.status_code == 200
    assert is_private(page)
    exchange = phone.post(address)
    assert (exchange.status_code, exchange["Location"]) == (303, "/p/preferences/")
    assert is_private(exchange)
    detour = phone.get("/p/preferences/")
    assert detour["Location"] == "/p/who/?next=%2Fp%2Fpreferences%2F"
    onward = phone.post(detour["Location"], {"birth_on": BIRTH, "next": "/p/preferences/"})
    assert onward["Location"] == "/p/preferences/"
    page = phone.get("/p/preferences/")
    assert page.status_code == 200
    assert is_private(page)


def test_wrong_method(address: str, phone: Client) -> None:
    with nothing_written():
        assert phone.put(address).status_code == 405
        assert phone.get(address + "new/").status_code == 405
        assert phone.delete("/p/preferences/").status_code == 405


def test_a_scanner_that_fetches_the_link_consumes_nothing(address: str, phone: Client) -> None:
    with nothing_written():
        for _ in range(3):
            assert phone.get(address).status_code == 200
            assert phone.head(address).status_code == 200
    assert phone.post(address).status_code == 303


def test_only_hashes_are_kept(address: str, phone: Client) -> None:
    token = address.split("/")[3]
    assert len(token) == 43
    link = PrivateLink.objects.get()
    assert (link.token_hash, link.patient_id) == (links.hashed(token), Patient.objects.get().pk)
    opened(phone, address)
    secret = phone.cookies["casebook_patient"].value
    assert LinkVisit.objects.get().key_hash == links.hashed(secret)


def test_the_cookie_is_short_lived_and_out_of_reach(address: str, phone: Client, settings: object) -> None:
    opened(phone, address)
    plain = phone.cookies["casebook_patient"]
    assert attributes(plain) == (True, "Lax", "/", 7200, "")
    settings.PLAIN_HTTP = False  # type: ignore[attr-defined]
    phone.post(address)
    safe = phone.cookies["__Host-casebook-patient"]
    assert attributes(safe) == (True, "Lax", "/", 7200, True)


def attributes(cookie: "Morsel[str]") -> tuple[object, ...]:
    return cookie["httponly"], cookie["samesite"], cookie["path"], cookie["max-age"], cookie["secure"]


@pytest.mark.parametrize("way", ["altered", "invented", "too early", "expired", "ended"])
def test_a_link_that_does_not_work(address: str, phone: Client, way: str) -> None:
    if way == "altered":
        address = address[:-2] + ("A" if address[-2] != "A" else "B") + "/"
    elif way == "invented":
        address = "/p/l/" + "x" * 43 + "/"
    elif way == "too early":
        PrivateLink.objects.update(opens_at=later(seconds=1))
    elif way == "expired":
        PrivateLink.objects.update(closes_at=NOW, opens_at=NOW - timedelta(days=1))
    else:
        PrivateLink.objects.update(ended_at=NOW, ended_because=Ended.DONE)
    with nothing_written():
        for response in (phone.get(address), phone.post(address)):
            assert response.status_code == CLOSED
            assert is_private(response)
            assert "This page has closed" in response.content.decode()
            assert "999" in response.content.decode()
    assert "casebook_patient" not in phone.cookies


def test_a_link_may_be_opened_often(address: str) -> None:
    for _ in range(3):
        assert known(Client(), address).get("/p/preferences/").status_code == 200


def test_a_newer_link_ends_the_older(address: str, phone: Client, planned: Planned) -> None:
    visitor = known(phone, address)
    planned(CHECK, step=1)
    sweep(now=NOW)
    with nothing_written():
        assert Client().post(address).status_code == CLOSED
        # Who stood on the older page is turned away as well.
        assert visitor.get("/p/preferences/").status_code == CLOSED


def test_a_purpose_that_is_done_ends_its_links(address: str, phone: Client, cast: Cast) -> None:
    with transaction.atomic():
        assert links.end(purpose=PAGE, subject_id=cast.patient.pk, now=NOW, actor=SYSTEM) == 1
    assert phone.post(address).status_code == CLOSED


def test_a_link_for_another_purpose_opens_no_other_page(
    address: str, phone: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    visitor = known(phone, address)
    PrivateLink.objects.update(purpose="end_messages")
    assert visitor.get("/p/preferences/").status_code == 200
    from clinic.messages import doors  # noqa: PLC0415  (only its rule is looked at here)

    assert not doors._fits(PrivateLink.objects.get(), ("sign",), False)


def test_without_a_cookie_or_with_another(cast: Cast, phone: Client) -> None:
    phone.cookies["casebook_patient"] = "y" * 43
    with nothing_written():
        for name in ("preferences", "private_who", "private_code"):
            assert phone.get(reverse(name)).status_code == CLOSED


def test_a_visit_ends_after_two_hours(address: str, phone: Client, at_now: time_machine.Traveller) -> None:
    visitor = known(phone, address)
    at_now.move_to(NOW + timedelta(hours=2))
    assert visitor.get("/p/preferences/").status_code == CLOSED


@pytest.mark.parametrize("typed", ["", "nonsense", "31 2 1990", "17 5 90000", "17\x005 1990", "٣٢ ١٣ ١٩٩٠"])
def test_what_is_no_date_counts_no_try(address: str, phone: Client, typed: str) -> None:
    opened(phone, address)
    with nothing_written():
        assert phone.post("/p/who/", {"birth_on": typed}).status_code == 422


def test_five_wrong_dates_of_birth_end_the_link(address: str, phone: Client) -> None:
    opened(phone, address)
    for left in (4, 3, 2, 1):
        page = phone.post("/p/who/", {"birth_on": "1 1 1990"})
        assert (page.status_code, f"Tries left: {left}" in page.content.decode()) == (422, True)
    # The tries are counted on the link: another browser gets no five of its own.
    other = opened(Client(), address)
    assert other.post("/p/who/", {"birth_on": "1 1 1990"}).status_code == CLOSED
    link = PrivateLink.objects.get()
    assert (link.ended_because, link.birth_tries) == (Ended.BIRTH_TRIES, 5)
    with nothing_written():
        assert phone.post("/p/who/", {"birth_on": BIRTH}).status_code == CLOSED
        assert Client().post(address).status_code == CLOSED


def test_a_right_date_counts_no_try(address: str) -> None:
    for _ in range(7):
        known(Client(), address)
    assert PrivateLink.objects.get().birth_tries == 0


def test_the_way_on_stays_among_the_private_pages(address: str, phone: Client) -> None:
    opened(phone, address)
    onward = phone.post("/p/who/", {"birth_on": BIRTH, "next": "https://evil.example/p/"})
    assert onward["Location"] == "/p/preferences/"


def test_a_printed_link_only_writes(cast: Cast, wishes: Wishes, phone: Client) -> None:
    with transaction.atomic():
        _link, url = links.issue(
            purpose=PAGE,
            subject_id=cast.patient.pk,
            patient=cast.patient,
            site=cast.fernbrook,
            now=NOW,
            write_only=True,
        )
    visitor = known(phone, url.removeprefix("http://localhost"))
    assert visitor.get("/p/who/").status_code == 200
    with nothing_written():
        assert visitor.get("/p/preferences/").status_code == CLOSED


def test_printed_and_sent_live_side_by_side(address: str, cast: Cast, wishes: Wishes) -> None:
    with transaction.atomic():
        links.issue(
            purpose=PAGE,
            subject_id=cast.patient.pk,
            patient=cast.patient,
            site=cast.fernbrook,
            now=NOW,
            write_only=True,
        )
    assert PrivateLink.objects.filter(ended_at=None).count() == 2


def test_forms_are_protected_although_the_page_hides_its_origin(address: str) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.get(address)
    token = strict.cookies["casebook_csrf"].value
    with nothing_written():
        assert strict.post(address, headers={"origin": "null"}).status_code == 403
        foreign = {"origin": "null", "sec-fetch-site": "cross-site", "x-csrftoken": token}
        assert strict.post(address, headers=foreign).status_code == 403
    ours = {"origin": "null", "sec-fetch-site": "same-origin", "x-csrftoken": token}
    assert strict.post(address, headers=ours).status_code == 303


def test_a_link_that_was_not_sent_opens_nothing(address: str, planned: Planned) -> None:
    assert DueMessage.objects.get().state == State.HANDED_OVER
    assert PrivateLink.objects.filter(ended_because=Ended.NOT_SENT).count() == 0
