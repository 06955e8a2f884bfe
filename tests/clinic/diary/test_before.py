"""The patient's page before a visit: when, where, and what is still to do."""

import re
from collections.abc import Collection, Iterator
from datetime import datetime

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.diary import actions, before
from clinic.diary.before import ToDo
from clinic.diary.kinds import VISIT
from clinic.diary.models import Booking
from clinic.messages import links
from clinic.trail.actor import SYSTEM
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import at, book
from tests.clinic.messages.entering import CLOSED, is_private, known
from tests.support import nothing_written


@pytest.fixture(autouse=True)
def _at_now() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def booking(diary: Cast) -> Booking:
    return book(diary, at(9))


@pytest.fixture
def phone(booking: Booking) -> Client:
    """The patient's browser, in by the link, birth date said."""
    with transaction.atomic():
        _link, url = links.issue(
            purpose=VISIT, subject_id=booking.pk, patient=booking.patient, site=booking.site, now=NOW, actor=SYSTEM
        )
    return known(Client(), url.partition("/p/l/")[1] + url.partition("/p/l/")[2])


def some(*todos: ToDo) -> tuple[before.Provider, before.Missing]:
    """What `before.register` keeps of a room that names these before each visit."""

    def provider(_booking: Booking, _now: datetime) -> list[ToDo]:
        return list(todos)

    def missing(bookings: Collection[Booking], _now: datetime) -> set[int]:
        return {booking.pk for booking in bookings for todo in todos if not todo.done and not todo.is_offer}

    return provider, missing


QUESTIONS = ToDo(title="Health questions", url_name="preferences", minutes=4, done=False)
READING = ToDo(title="Reading", url_name="preferences", minutes=2, done=False)


def test_it_works(booking: Booking, phone: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(before, "_providers", [some(QUESTIONS), some(READING)])
    page = phone.get(reverse("before_visit"))
    text = " ".join(page.content.decode().split())
    assert (page.status_code, is_private(page)) == (200, True)
    assert "Still to do: 2 things, about 6 minutes" in text
    assert "Wed 4 Mar 2026, 09:00" in text
    assert str(booking.site.address) in text
    # What the visit is for does not stand on a page that somebody may read over the shoulder.
    assert "Whitening" not in text.partition("<main")[0]


def test_everything_is_ready(phone: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    done = ToDo(title="Health questions", url_name="preferences", minutes=4, done=True)
    monkeypatch.setattr(before, "_providers", [some(done)])
    assert "Everything is ready" in phone.get(reverse("before_visit")).content.decode()


def test_the_first_open_thing_is_the_one_button(phone: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    things = [("Answered", True), ("Read this", False), ("Sign this", False)]
    made = [ToDo(title=title, url_name="preferences", minutes=2, done=done) for title, done in things]
    monkeypatch.setattr(before, "_providers", [some(*made)])
    words = phone.get(reverse("before_visit")).content.decode()
    assert re.findall(r'<a class="button"[^>]*>([^<]+)</a>', words) == ["Read this"]
    assert words.count(">Read this<") == 1
    assert "done" in words.partition(">Answered<")[2].partition("</li>")[0]
    assert "still to do" in words.partition(">Sign this<")[2].partition("</li>")[0]


def test_whom_to_call_stands_at_the_foot(phone: Client) -> None:
    """Of every page that does not list the numbers itself, as links."""
    for name in ("before_visit", "preferences"):
        foot = phone.get(reverse(name)).content.decode().partition("<footer")[2]
        assert 'href="tel:+442079460100"' in foot
        assert 'href="tel:+442079460199"' in foot


def test_what_is_only_offered_is_never_ready_nor_missing(phone: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    offer = ToDo(title="Take it back", url_name="preferences", minutes=0, done=True, is_offer=True)
    monkeypatch.setattr(before, "_providers", [some(offer)])
    row = phone.get(reverse("before_visit")).content.decode().partition("Take it back")[2].partition("</li>")[0]
    assert "Ready" not in row
    assert "Missing" not in row


def test_wrong_role(diary: Cast, booking: Booking) -> None:
    assert booking.pk
    assert sign_in(diary.desk).get(reverse("before_visit")).status_code == CLOSED


def test_wrong_method(phone: Client) -> None:
    with nothing_written():
        assert phone.post(reverse("before_visit")).status_code == 405


def test_the_link_closes_two_hours_after_the_visit(booking: Booking) -> None:
    with transaction.atomic():
        link, _url = links.issue(
            purpose=VISIT, subject_id=booking.pk, patient=booking.patient, site=booking.site, now=NOW, actor=SYSTEM
        )
    assert link.closes_at == at(11, 35)


def test_a_cancelled_visit_opens_no_page_any_more(diary: Cast, booking: Booking) -> None:
    actions.cancel(booking=booking, by="patient", reason="", actor=actor_of(diary.desk), now=NOW)
    with nothing_written(), pytest.raises(links.PurposeDone), transaction.atomic():
        links.issue(
            purpose=VISIT, subject_id=booking.pk, patient=booking.patient, site=booking.site, now=NOW, actor=SYSTEM
        )


def test_the_page_of_a_visit_that_was_cancelled_meanwhile(diary: Cast, booking: Booking, phone: Client) -> None:
    actions.cancel(booking=booking, by="practice", reason="", actor=actor_of(diary.desk), now=NOW)
    text = phone.get(reverse("before_visit")).content.decode()
    assert "This visit is cancelled, so there is nothing left to do here." in text
    assert "Still to do" not in text


def test_the_site_without_an_address(phone: Client) -> None:
    Site.objects.update(address="", phone="")
    assert phone.get(reverse("before_visit")).status_code == 200
