"""Joining two records in a real browser: found, compared, joined and taken apart again with the keys alone."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests import world
from tests.browser import Device, Watched, axe
from tests.cast import PASSWORD, TOTP_SECRET
from tests.clinic.accounts.totp import lasting_totp
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(300)]
DEVICES: tuple[Device, ...] = ("desk", "tablet", "phone")


@pytest.fixture(scope="module")
def twice_world() -> Iterator[World]:
    with world.start("embedded", seed="tests.clinic.patients.seed") as started:
        yield started


def enter(watched: Watched, running: World, path: str, *, who: str, device: Device = "desk") -> Page:
    page = watched.open(running.address, device=device)
    page.goto(f"/sign-in/?next={path}")
    page.get_by_label("E-mail").fill(f"{who}@example.org")
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    if who == "mara":
        page.get_by_label("Six digits").fill(lasting_totp(TOTP_SECRET))
        page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"**{path}")
    return page


def press_on(page: Page, name: str, *, role: str = "link") -> None:
    """As somebody without a mouse does."""
    found = page.get_by_role(role, name=name)  # type: ignore[arg-type]
    found.focus()
    page.keyboard.press("Enter")


@pytest.mark.parametrize("device", DEVICES)
def test_no_page_shuts_anybody_out(twice_world: World, watched_browser: Watched, device: Device) -> None:
    page = enter(watched_browser, twice_world, "/patients/1/", who="dana", device=device)
    for address in ("/patients/1/", "/patients/1/same/", "/patients/1/same/?q=nobody", "/patients/1/same/2/"):
        page.goto(address)
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{address} is wider than {device}"
    # The desk compares, and is told whom to ask.
    expect(page.get_by_text("ask a manager to join the records: Mara O’Neill.")).to_be_visible()
    expect(page.get_by_role("button", name="Join the records")).to_have_count(0)


def test_by_keys_alone(twice_world: World, watched_browser: Watched) -> None:
    watched_browser.expected.append("422")
    page = enter(watched_browser, twice_world, "/patients/1/", who="mara")
    press_on(page, "Same person as …")
    page.get_by_label("Find the other record").focus()
    page.keyboard.type("nwossu")
    press_on(page, "Amara Nwossu")
    expect(page.get_by_role("heading", name="Two records: the same person?")).to_be_visible()
    axe(page)
    # Without a reason nothing is joined, and what was chosen stays.
    address = page.get_by_role("group", name="E-mail").get_by_label("a.nwosu@example.org")
    address.focus()
    page.keyboard.press("Space")
    press_on(page, "Join the records", role="button")
    expect(page.get_by_text("Say how you know that this is one person.").first).to_be_visible()
    expect(page.get_by_role("group", name="E-mail").get_by_label("a.nwosu@example.org")).to_be_checked()
    axe(page)
    page.get_by_label("How do you know that this is one person?").focus()
    page.keyboard.type("Same address and the same voice.")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Joined. Visits, cases and messages of both stand here now.")).to_be_visible()
    expect(page.get_by_text("a.nwosu@example.org")).to_be_visible()
    expect(page.get_by_text("latex")).to_be_visible()
    # What only one of them had is there as well.
    expect(page.get_by_text("+44 20 7946 0101")).to_be_visible()
    axe(page)
    press_on(page, "Amara Nwossu")
    expect(page.get_by_text("Same address and the same voice.")).to_be_visible()
    axe(page)
    page.get_by_text("These are two people after all").focus()
    page.keyboard.press("Enter")
    press_on(page, "Take them apart", role="button")
    expect(page.get_by_text("Two records again.")).to_be_visible()
    expect(page.get_by_role("link", name="Same person as …")).to_be_visible()
