"""The patient's way in: message, button, date of birth, code; and every way of not getting in."""

import re
from collections.abc import Iterator
from datetime import timedelta
from http.cookies import Morsel

import pytest
import time_machine
from django.core import mail
from django.db import transaction
from django.http import HttpResponseBase
from django.test import Client
from django.urls import reverse

from clinic.messages import links, visits
from clinic.messages.models import DueMessage, Ended, LinkVisit, PrivateLink, State
from clinic.messages.purposes import Window
from clinic.messages.sweep import sweep
from clinic.patients.actions import allowed_purposes
from clinic.patients.models import ContactChoice, Patient, Purpose
from clinic.trail.actor import SYSTEM
from tests.cast import NOW, Cast
from tests.clinic.messages.writing import CHECK, PAGE, Planned, Wishes, later
from tests.support import nothing_written

BIRTH = "17 5 1990"
CLOSED = 410


@pytest.fixture(autouse=True)
def at_now() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def address(planned: Planned) -> str:
    """The path of the link, as it stands in the mail."""
    planned(CHECK)
    sweep(now=NOW)
    found = re.search(r"https?://[^/]+(/p/l/\S+)", str(mail.outbox[0].body))
    assert found is not None
    return found[1]


@pytest.fixture
def phone() -> Client:
    return Client()


def opened(phone: Client, address: str) -> Client:
    phone.post(address)
    return phone


def known(phone: Client, address: str) -> Client:
    opened(phone, address).post(reverse("private_who"), {"birth_on": BIRTH})
    return phone


def is_private(response: HttpResponseBase) -> bool:
    return response.headers["Cache-Control"] == "no-store" and response.headers["Referrer-Policy"] == "no-referrer"


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


def code_in_the_mail() -> str:
    found = re.search(r"\b\d{6}\b", str(mail.outbox[-1].body))
    assert found is not None
    return found[0]


def test_the_code_goes_to_the_known_channel_and_opens(address: str, phone: Client) -> None:
    visitor = known(phone, address)
    assert "a…@example.org" in visitor.get("/p/code/").content.decode()
    visitor.post("/p/code/", {"step": "send"})
    assert mail.outbox[-1].subject == "Your code for Fernbrook Dental Rooms"
    code = code_in_the_mail()
    assert code not in LinkVisit.objects.get().code_hash
    onward = visitor.post("/p/code/", {"step": "check", "code": f"{code[:3]} {code[3:]}"})
    assert onward.status_code == 303
    visit = LinkVisit.objects.get()
    assert (visit.code_passed_at, visit.code_hash) == (NOW, "")


def test_the_code_comes_at_night_and_after_an_opt_out(
    address: str, phone: Client, cast: Cast, at_now: time_machine.Traveller
) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(channel="phone")
    ContactChoice.objects.create(
        patient=cast.patient, purpose=Purpose.SAFETY, allowed=False, wording="No", chosen_at=NOW, chosen_by="Amara"
    )
    at_now.move_to(NOW.replace(hour=23))
    known(phone, address).post("/p/code/", {"step": "send"})
    assert len(mail.outbox) == 2


def test_five_wrong_codes_kill_the_code(address: str, phone: Client) -> None:
    visitor = known(phone, address)
    visitor.post("/p/code/", {"step": "send"})
    right = code_in_the_mail()
    wrong = "000000" if right != "000000" else "111111"
    for _ in range(5):
        assert visitor.post("/p/code/", {"step": "check", "code": wrong}).status_code == 422
    assert visitor.post("/p/code/", {"step": "check", "code": right}).status_code == 422
    assert LinkVisit.objects.get().code_passed_at is None


def test_a_code_lives_ten_minutes(address: str, phone: Client, at_now: time_machine.Traveller) -> None:
    visitor = known(phone, address)
    visitor.post("/p/code/", {"step": "send"})
    at_now.move_to(NOW + timedelta(minutes=10))
    assert visitor.post("/p/code/", {"step": "check", "code": code_in_the_mail()}).status_code == 422


def test_a_code_is_for_the_browser_that_asked(address: str, phone: Client) -> None:
    known(phone, address).post("/p/code/", {"step": "send"})
    code = code_in_the_mail()
    other = known(Client(), address)
    other.post("/p/code/", {"step": "send"})
    if code_in_the_mail() != code:
        assert other.post("/p/code/", {"step": "check", "code": code}).status_code == 422


def test_a_code_works_once(address: str, phone: Client) -> None:
    visitor = known(phone, address)
    visitor.post("/p/code/", {"step": "send"})
    code = code_in_the_mail()
    visitor.post("/p/code/", {"step": "check", "code": code})
    assert visitor.post("/p/code/", {"step": "check", "code": code}).status_code == 422


def test_codes_are_limited(address: str, phone: Client) -> None:
    visitor = known(phone, address)
    for _ in range(visits.CODES_A_VISIT):
        visitor.post("/p/code/", {"step": "send"})
    with nothing_written():
        page = visitor.post("/p/code/", {"step": "send"})
    assert page.status_code == 422
    assert "No more codes" in page.content.decode()


@pytest.mark.parametrize("typed", ["", "12345", "1234567", "abcdef", "12\x003456" * 3])
def test_what_is_no_code_counts_no_try(address: str, phone: Client, typed: str) -> None:
    visitor = known(phone, address)
    visitor.post("/p/code/", {"step": "send"})
    with nothing_written():
        assert visitor.post("/p/code/", {"step": "check", "code": typed}).status_code == 422


def test_preferences_keep_proof_of_each_change(address: str, phone: Client, cast: Cast) -> None:
    visitor = known(phone, address)
    page = visitor.get("/p/preferences/").content.decode()
    assert "about the colour of my teeth" in page
    visitor.post("/p/preferences/", {"channel": "text", "appointment": "on", "safety": "on", "colour": "on"})
    assert allowed_purposes(cast.patient) == {
        Purpose.APPOINTMENT: True,
        Purpose.SAFETY: True,
        Purpose.RECALL: False,
        Purpose.COLOUR: True,
    }
    proofs = ContactChoice.objects.order_by("purpose").values_list("purpose", "wording", "chosen_by")
    assert list(proofs) == [
        ("colour", "Remind me in about a year about the colour of my teeth.", "Amara Nwosu"),
        ("recall", "Tell me when my next check is due.", "Amara Nwosu"),
    ]
    assert Patient.objects.get(pk=cast.patient.pk).channel == "text"


def test_the_reminder_about_colour_is_never_ticked_beforehand(address: str, phone: Client) -> None:
    page = known(phone, address).get("/p/preferences/").content.decode()
    [box] = re.findall(r'<input[^>]*name="colour"[^>]*>', page)
    assert "checked" not in box


def test_pages_speak_the_patients_language(address: str, phone: Client, cast: Cast) -> None:
    Patient.objects.filter(pk=cast.patient.pk).update(language="ar")
    page = known(phone, address).get("/p/preferences/").content.decode()
    assert 'lang="ar"' in page
    assert 'dir="rtl"' in page
    assert 'lang="en"' in Client().get(reverse("account_login")).content.decode()


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
