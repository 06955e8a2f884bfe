"""Sign-in, screen lock and Set-up as a person meets them: in a browser, against real processes."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser import Watched, axe
from tests.cast import PASSWORD, PIN, TOTP_SECRET
from tests.clinic.accounts.totp import lasting_totp
from tests.world import World

pytestmark = [
    pytest.mark.world,
    pytest.mark.timeout(300),
    pytest.mark.parametrize("real_world", ["embedded"], indirect=True),
]


def sign_in(page: Page, email: str, *, factor: bool = False) -> None:
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    if factor:
        # Not before the next page is there: while it loads there is nothing to look at.
        expect(page.get_by_label("Six digits")).to_be_visible()
        axe(page)
        page.get_by_label("Six digits").fill(lasting_totp(TOTP_SECRET))
        page.get_by_role("button", name="Sign in").click()


def test_a_manager_finds_her_way_and_every_page_is_accessible(real_world: World, watched_browser: Watched) -> None:
    page = watched_browser.open(real_world.address)
    page.goto("/setup/")
    sign_in(page, "mara@example.org", factor=True)
    expect(page).to_have_title(re.compile("Set-up"))
    axe(page)
    for link in ("Rules and numbers of this site", "People and their rights", "Visits in other calendar programs"):
        page.goto("/setup/")
        page.get_by_role("link", name=link).click()
        expect(page).not_to_have_url(re.compile("/setup/$"))
        axe(page)
    for path in (
        "/setup/sites/new/",
        "/setup/people/invite/",
        "/account/",
        "/account/pin/",
        "/account/calendars/",
        "/password/",
    ):
        page.goto(path)
        axe(page)
    for path in ("/second-factor/", "/sign-out/"):
        page.goto(path)
        axe(page)


def test_an_untouched_page_locks_itself(real_world: World, watched_browser: Watched) -> None:
    watched_browser.expected.append("422")
    page = watched_browser.open(real_world.address)
    page.goto("/account/")
    sign_in(page, "dana@example.org")
    page.clock.install()
    page.goto("/account/")
    page.clock.fast_forward(290_000)
    page.keyboard.press("Shift")
    page.clock.fast_forward(290_000)
    expect(page).to_have_url(f"{real_world.address}/account/")
    page.clock.fast_forward(15_000)
    expect(page.get_by_role("heading", name="Locked by Dana Popescu")).to_be_visible()
    axe(page)
    page.get_by_label("PIN or password").fill("0000")
    page.get_by_role("button", name="Open").click()
    expect(page.get_by_text("Tries left before a full sign-in: 4.").first).to_be_visible()
    axe(page)
    page.get_by_label("PIN or password").fill(PIN)
    page.get_by_role("button", name="Open").click()
    expect(page).to_have_url(f"{real_world.address}/account/")
    # htmx notes the address it is at; nothing else of the program stays in the browser.
    assert page.evaluate("[...Object.keys(localStorage), ...Object.keys(sessionStorage)]") == [
        "htmx-current-path-for-history"
    ]


def test_two_share_a_screen(real_world: World, watched_browser: Watched) -> None:
    page = watched_browser.open(real_world.address)
    page.goto("/account/")
    sign_in(page, "cleo@example.org", factor=True)
    page.get_by_role("button", name="Lock the screen").click()
    page.get_by_role("button", name="Sign in as somebody else").click()
    sign_in(page, "ari@example.org")
    page.get_by_role("button", name="Lock the screen").click()
    expect(page.get_by_label("PIN", exact=True)).to_be_visible()
    axe(page)
    page.get_by_label("PIN", exact=True).fill(PIN)
    page.get_by_role("button", name="Go on as Cleo Haddad").click()
    page.goto("/account/")
    expect(page.get_by_role("heading", name="Cleo Haddad: your own sign-in")).to_be_visible()
