"""Public holidays of the coming year: offered with a tick each, closed by nobody but the manager."""

from collections.abc import Iterator
from datetime import date, datetime

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.diary.models import Closure
from clinic.diary.outside import visits_outside
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.clinic.diary.house import at, book
from tests.support import nothing_written

GOOD_FRIDAY, EASTER_MONDAY = date(2026, 4, 3), date(2026, 4, 6)


@pytest.fixture(autouse=True)
def at_now() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def manager(diary: Cast) -> Client:
    Site.objects.filter(pk=diary.fernbrook.pk).update(region="ENG")
    return sign_in(diary.manager)


def send(client: Client, *days: date, **typed: object) -> Answer:
    return client.post(reverse("setup_holidays"), {"days": [day.isoformat() for day in days]} | typed)


def test_it_works(diary: Cast, manager: Client) -> None:
    page = manager.get(reverse("setup_holidays"))
    text = page.content.decode()
    offered = [day for day, _name in page.context["offered"]]
    # A year from today on: New Year is that of next year, and nothing comes twice.
    assert (offered[0], offered[-1]) == (GOOD_FRIDAY, date(2027, 1, 1))
    assert "United Kingdom, England" in text
    assert "Fri 3 Apr 2026: Good Friday" in text
    assert "checked" not in text.partition("<form")[2].partition("</form>")[0]
    assert not Closure.objects.exists()
    assert send(manager, GOOD_FRIDAY, EASTER_MONDAY).status_code == 302
    # Summer time began on 29 March: midnight is eleven in the evening of UTC.
    first, midnight = Closure.objects.all()[0], datetime.fromisoformat("2026-04-02T23:00Z")
    assert (first.kind, first.resource, first.reason) == ("holiday", None, "Good Friday")
    assert (first.starts_at, first.ends_at) == (midnight, at(23, day=GOOD_FRIDAY))
    assert TrailEntry.objects.filter(verb="diary.closed").count() == 2
    after = manager.get(reverse("setup_holidays"))
    assert [day for day, _name in after.context["closed"]] == [GOOD_FRIDAY, EASTER_MONDAY]
    assert [day for day, _name in after.context["offered"]] == offered[2:]
    assert "public holiday" in manager.get(reverse("setup_closures")).content.decode()


def test_visits_on_a_holiday_are_shown_first(diary: Cast, manager: Client) -> None:
    held = book(diary, at(9, day=EASTER_MONDAY))
    with nothing_written():
        page = send(manager, GOOD_FRIDAY, EASTER_MONDAY)
    assert page.status_code == 409
    assert [one.booking.pk for one in page.context["visits"]] == [held.pk]
    assert "Fernbrook: Easter Monday" in page.content.decode()
    # The ticks stay.
    assert page.context["form"]["days"].value() == ["2026-04-03", "2026-04-06"]
    assert send(manager, GOOD_FRIDAY, EASTER_MONDAY, anyway="1", agreed=[str(held.pk)]).status_code == 302
    assert [one.booking.pk for one in visits_outside(diary.fernbrook, now=NOW)] == [held.pk]


@pytest.mark.parametrize("days", [[], ["2026-04-04"], ["2025-12-25"], ["soon"], ["2026-04-03\x00"]])
def test_only_what_is_offered_is_closed(manager: Client, days: list[str]) -> None:
    with nothing_written():
        page = manager.post(reverse("setup_holidays"), {"days": days})
    assert page.status_code == 422
    assert "days" in page.context["form"].errors


def test_wrong_role(diary: Cast) -> None:
    desk = sign_in(diary.desk)
    with nothing_written():
        assert send(desk, GOOD_FRIDAY).status_code == 403


def test_country_and_region_are_picked_from_the_list(diary: Cast, manager: Client) -> None:
    """The whole country first: without a region Easter Monday is not among them, and the page says why."""
    Site.objects.filter(pk=diary.fernbrook.pk).update(region="")
    assert "No region is chosen" in manager.get(reverse("setup_holidays")).content.decode()
    address = reverse("site", args=[diary.fernbrook.pk])
    form = manager.get(address).context["form"]
    assert ("SCT", "Scotland") in form.fields["region"].choices
    typed = {name: field.value() or "" for name in form.fields for field in [form[name]]}
    with nothing_written():
        page = manager.post(address, typed | {"region": "BY"})
    assert page.context["form"].errors["region"]
    assert manager.post(address, typed | {"region": "SCT"}).status_code == 302
    offered = dict(manager.get(reverse("setup_holidays")).context["offered"])
    assert offered[date(2026, 11, 30)] == "Saint Andrew's Day"
    assert EASTER_MONDAY not in offered
    # Another country: the regions that stand on the page are those of that one.
    with nothing_written():
        page = manager.post(address, typed | {"region": "SCT", "country": "DE", "seen_version": "2"})
    assert ("BY", "Bayern") in page.context["form"].fields["region"].choices
    assert manager.post(address, typed | {"region": "BY", "country": "DE", "seen_version": "2"}).status_code == 302
    assert date(2026, 6, 4) in dict(manager.get(reverse("setup_holidays")).context["offered"])
    # A place that the library does not know: closed days are entered by hand.
    Site.objects.filter(pk=diary.fernbrook.pk).update(country="XX", region="")
    assert "No public holidays are known" in manager.get(reverse("setup_holidays")).content.decode()
