"""Products and prices in a browser: the strength follows the label as it is typed, and nobody is shut out."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser import Watched, axe
from tests.clinic.accounts.test_in_browser import sign_in
from tests.world import World

pytestmark = [
    pytest.mark.world,
    pytest.mark.timeout(300),
    pytest.mark.parametrize("real_world", ["embedded"], indirect=True),
]


def looks_right(page: Page) -> None:
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{page.url} is too wide"


def test_a_gel_and_a_price(real_world: World, watched_browser: Watched) -> None:
    watched_browser.expected.append("422")
    page = watched_browser.open(real_world.address, device="phone")
    page.goto("/setup/products/new/")
    sign_in(page, "mara@example.org", factor=True)
    looks_right(page)
    page.get_by_label("Name, as your practice calls it").fill("Whitening gel S")
    page.locator("label").get_by_text("whitening gel", exact=True).click()
    page.locator("label").get_by_text("carbamide peroxide").click()
    page.get_by_label("% on the label").fill("16")
    page.get_by_label("It is mixed at the chair").focus()
    expect(page.locator("#strength")).to_contain_text("it is not assumed here")
    page.get_by_role("button", name="Save the product").click()
    expect(page.get_by_role("link", name="That % holds")).to_be_visible()
    looks_right(page)
    page.locator("label").get_by_text("as used, ready or after mixing").click()
    expect(page.locator("#strength")).to_contain_text("Hydrogen peroxide as used: 5.79 %")
    expect(page.locator("#strength")).to_contain_text("16 % carbamide peroxide × 34.014 ÷ 94.070")
    axe(page)
    page.get_by_label("Longest time on the teeth, minutes").fill("20")
    page.get_by_label("Most cycles in one session").fill("4")
    page.get_by_role("button", name="Save the product").click()
    page.get_by_role("link", name="Whitening gel S").click()
    looks_right(page)
    page.goto("/setup/products/")
    looks_right(page)
    page.goto("/setup/prices/new/")
    looks_right(page)
    page.get_by_label("What is charged for").fill("One session with review")
    page.get_by_label("Amount in").fill("390")
    page.get_by_role("button", name="Save the price").click()
    expect(page.get_by_text("390.00")).to_be_visible()
    looks_right(page)
    page.get_by_role("link", name="One session with review").click()
    looks_right(page)
    page.goto("/setup/sites/1/on-call/")
    looks_right(page)
    page.goto("/setup/")
    expect(page.get_by_text("No whitening gel yet")).to_have_count(0)
    looks_right(page)
