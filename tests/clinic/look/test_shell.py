"""The frame of a page: where one is, where one may go, and the wishes of the person who looks."""

from zoneinfo import ZoneInfo

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory, override_settings
from django.urls import path
from django.utils import translation

from clinic.accounts.context import Shell, shell
from clinic.accounts.doors import Door, hang, public, staff
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from tests.cast import Cast


def answer(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


def answer_too(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


urlpatterns = [
    path("", staff(Capability.TODAY)(answer), name="today"),
    path("patients/", staff(Capability.PATIENTS_READ)(answer), name="patients"),
    path("results/", staff(Capability.RESULTS_READ)(answer), name="results"),
    path("setup/", staff(Capability.SETUP)(answer), name="setup"),
    path("diary/", hang(answer_too, Door(kind="staff")), name="diary"),
    path("demo/mailbox/", public(reason="invented")(answer), name="demo_mailbox"),
    path("demo/clock/", staff(Capability.TODAY)(answer), name="demo_clock"),
    path("materials/", answer, name="materials"),
]


def frame(cast: Cast | None, *, user: User | None = None, address: str = "/", **cookies: str) -> Shell:
    request = RequestFactory().get(address)
    request.COOKIES |= cookies
    request.user = user or AnonymousUser()
    vars(request)["site"] = cast.fernbrook if cast else None
    return shell(request)["shell"]


@pytest.mark.django_db
@override_settings(ROOT_URLCONF=__name__)
@pytest.mark.parametrize(
    ("who", "words"),
    [
        ("desk", ["Today", "Patients"]),
        ("clinician", ["Today", "Patients", "Results"]),
        ("manager", ["Today", "Patients", "Results", "Set-up"]),
    ],
)
def test_a_part_is_shown_to_those_its_door_admits(cast: Cast, who: str, words: list[str]) -> None:
    assert [str(entry.word) for entry in frame(cast, user=getattr(cast, who)).entries] == words


@pytest.mark.django_db
@override_settings(ROOT_URLCONF=__name__)
def test_only_the_part_one_is_in_is_current(cast: Cast) -> None:
    inside = frame(cast, user=cast.manager, address="/patients/7/")
    assert [str(entry.word) for entry in inside.entries if entry.current] == ["Patients"]
    first = frame(cast, user=cast.manager, address="/")
    assert [str(entry.word) for entry in first.entries if entry.current] == ["Today"]


@pytest.mark.django_db
@override_settings(ROOT_URLCONF=__name__)
def test_the_demo_has_its_own_pages(cast: Cast) -> None:
    assert [entry.url for entry in frame(cast, user=cast.desk).demo_entries] == ["/demo/mailbox/", "/demo/clock/"]
    assert [entry.url for entry in frame(cast).demo_entries] == ["/demo/mailbox/"]


@pytest.mark.django_db
@override_settings(ROOT_URLCONF=__name__)
def test_the_bar_of_a_phone_holds_four(cast: Cast) -> None:
    here = frame(cast, user=cast.manager)
    assert (len(here.first_entries), len(here.more_entries)) == (4, 0)


@override_settings(ROOT_URLCONF=__name__)
def test_nobody_signed_in_sees_no_part() -> None:
    here = frame(None)
    assert not here.signed_in
    assert (here.entries, here.other_sites, here.person_name) == ([], [], "")


@pytest.mark.django_db
def test_a_page_without_a_site_names_the_practice(cast: Cast) -> None:
    here = frame(None)
    assert here.place == "Fernbrook Dental Rooms"
    assert str(here.zone) == "UTC"


@pytest.mark.django_db
def test_a_fresh_installation_still_has_a_name() -> None:
    assert frame(None).place == "Whitening Casebook"


@pytest.mark.django_db
def test_times_are_those_of_the_site(cast: Cast) -> None:
    assert frame(cast, user=cast.desk).zone == ZoneInfo(cast.fernbrook.timezone)


@pytest.mark.django_db
def test_another_site_is_offered_only_to_its_members(cast: Cast) -> None:
    assert cast.alderton not in frame(cast, user=cast.desk).other_sites


@pytest.mark.parametrize(("cookie", "theme"), [("dark", "dark"), ("light", "light"), ('"><script>', ""), ("", "")])
def test_the_theme_is_one_of_two_or_the_devices(cookie: str, theme: str) -> None:
    assert frame(None, casebook_theme=cookie).theme == theme


def test_names_stay_hidden_on_the_next_page() -> None:
    assert frame(None, casebook_names="hidden").names_hidden
    assert not frame(None, casebook_names="shown").names_hidden


def test_direction_follows_the_language() -> None:
    with translation.override("ar"):
        assert frame(None).direction == "rtl"
    assert frame(None).direction == "ltr"
