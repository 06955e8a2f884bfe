"""A message is worded anew by the keyboard alone, on each size of screen."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser import Device, Watched, axe
from tests.clinic.accounts.test_in_browser import sign_in
from tests.world import World

pytestmark = [
    pytest.mark.world,
    pytest.mark.timeout(300),
    pytest.mark.parametrize("real_world", ["embedded"], indirect=True),
]
WORDS = "{practice}: see you on {date}. Your page: {link} or call {number}"


def looks_right(page: Page) -> None:
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{page.url} is too wide"


def tab_to(page: Page, selector: str) -> None:
    """As somebody without a mouse gets there."""
    for _ in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    pytest.fail(f"No way to {selector} by the keyboard.")


def type_anew(page: Page, words: str) -> None:
    tab_to(page, "textarea[name=text]")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type(words)


@pytest.mark.parametrize("device", ["desk", "phone"])
def test_worded_anew_by_the_keyboard(real_world: World, watched_browser: Watched, device: Device) -> None:
    watched_browser.expected.append("422")
    page = watched_browser.open(real_world.address, device=device)
    page.goto("/setup/")
    sign_in(page, "mara@example.org", factor=True)
    page.get_by_role("link", name="Words of the messages").click()
    expect(page.get_by_role("heading", name="What the messages say in English")).to_be_visible()
    looks_right(page)
    tab_to(page, "a[href$='/visit_confirmed/text/en/']")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Visit confirmed (text message, English)")).to_be_visible()
    # On a telephone they stand further down.
    expect(page.get_by_role("link", name="What you can put in")).to_be_visible(visible=device == "phone")
    looks_right(page)
    type_anew(page, "{practice}: your whitening is on {date}. {number}")
    tab_to(page, "button.button")
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name="take out “whitening”")).to_be_visible()
    expect(page.get_by_role("link", name="{link} is missing")).to_be_visible()
    looks_right(page)
    type_anew(page, WORDS)
    tab_to(page, "button[name=look]")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Nothing is kept yet")).to_be_visible()
    expect(page.get_by_text("Fernbrook: see you on Wed 30 Sep 2026, 14:30.")).to_be_visible()
    looks_right(page)
    tab_to(page, "form.stack button.button")
    page.keyboard.press("Enter")
    expect(page.get_by_text("These words go out from the next message on.")).to_be_visible()
    tab_to(page, "summary")
    page.keyboard.press("Enter")
    expect(page.locator(".wording-changes ins").first).to_be_visible()
    looks_right(page)
    page.get_by_role("button", name="Use the program’s words again").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("The program’s words go out again")).to_be_visible()
    looks_right(page)
