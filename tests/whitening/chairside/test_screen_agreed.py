"""The screen beside the chair in a real browser, with nothing against the session: what is in reach, how it fits."""

from collections.abc import Iterator
from itertools import pairwise

import pytest
from playwright.sync_api import Locator, Page, expect

from tests import world
from tests.browser import Watched, axe
from tests.cast import PASSWORD
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(300)]

TABLETS = [(1024, 768), (768, 1024)]
WIDTHS = (390, 500, 640, 768, 960, 1024, 1280, 1600)
# Whole, and nothing lies over it: neither beside its edge nor in its middle.
IS_IN_REACH = """(button) => {
  const { x, y, width, height } = button.getBoundingClientRect();
  return [[0.5, 0.5], [0.1, 0.1], [0.9, 0.9]].every(([right, down]) =>
    button.contains(document.elementFromPoint(x + width * right, y + height * down)));
}"""
FITS = "(button) => button.scrollWidth <= button.clientWidth"
LINES = """(clock) => {
  const range = document.createRange();
  range.selectNodeContents(clock);
  return [range.getClientRects().length, range.getBoundingClientRect().right <= innerWidth];
}"""
# As if the gel had gone on a hundred minutes ago.
LONG_AGO = """() => document.querySelectorAll("[data-clock-from]").forEach((clock) => {
  clock.dataset.clockFrom = new Date(Date.now() - 100 * 60000 - 5000).toISOString();
})"""


@pytest.fixture(scope="module")
def agreed_world() -> Iterator[World]:
    with world.start("embedded", seed="tests.whitening.chairside.seed_agreed") as started:
        yield started


@pytest.fixture
def chair(agreed_world: World, watched_browser: Watched) -> Page:
    page = watched_browser.open(agreed_world.address, device="tablet")
    page.goto("/sign-in/?next=/chair/1/")
    page.locator("input[name=login]").fill("ari@example.org")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/chair/1/")
    return page


def send(page: Page, wire: str) -> None:
    """One tap, as the page itself would send it."""
    token = page.locator("[name=csrfmiddlewaretoken]").first.input_value()
    form: dict[str, str | float | bool] = {"e": wire, "csrfmiddlewaretoken": token}
    assert page.request.post("/chair/1/event/", form=form, headers={"X-Tap": "1"}).ok
    page.reload()


def tabs_in_reach(page: Page, tabs: Locator) -> None:
    """On a tablet held either way, with 24 px between two of them."""
    expect(tabs).to_have_count(16)
    for width, height in TABLETS:
        page.set_viewport_size({"width": width, "height": height})
        for tab in tabs.all():
            box = tab.bounding_box()
            assert box is not None
            assert box["height"] >= 96, (width, tab.inner_text(), box)
            assert box["width"] >= 44, (width, tab.inner_text(), box)
            assert tab.evaluate(IS_IN_REACH), (width, tab.inner_text(), box)
            assert tab.evaluate(FITS), (width, tab.inner_text(), box)
        boxes = [tab.bounding_box() for tab in tabs.all()]
        gaps = [right["x"] - left["x"] - left["width"] for left, right in pairwise(boxes[:8]) if left and right]
        assert min(gaps) >= 24, (width, gaps)


def test_the_tabs_and_the_clock_of_a_whole_session(chair: Page) -> None:
    """One session is gone through: it cannot be taken back to its beginning for a second test."""
    for wire in ("41:1", "3", "4", "5:0", "6"):
        send(chair, wire)
    expect(chair.locator("[data-step-title]")).to_have_text("Starting shade")
    tabs_in_reach(chair, chair.locator(".chair-shades button"))
    axe(chair)
    for wire in ("7:A3:1:1:1", "8:0:0", "9", "10", "11:2;12:20:", "13:3:2", "16:1:"):
        send(chair, wire)
    clock_on_one_line(chair)
    # Out comes the barrier, and Undo says all of that tap: the highest top there is.
    for wire in ("22:0", "23;24:0", "25:0", "31:2;32"):
        send(chair, wire)
    expect(chair.locator("[data-step-title]")).to_have_text("Final shade, provisional: teeth are dry")
    tabs_in_reach(chair, chair.locator(".chair-shades button"))


def clock_on_one_line(page: Page) -> None:
    page.evaluate(LONG_AGO)
    clock = page.locator(".chair-clock")
    expect(clock).to_have_text("100:05")
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        assert clock.evaluate(LINES) == [1, True], width
