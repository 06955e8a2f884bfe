"""The screen beside the chair in a real browser, with nothing against the session: what is in reach, how it fits.

And what is seen of a consent that is withdrawn elsewhere, while somebody is writing.
"""

import re
from collections.abc import Iterator
from itertools import pairwise

import pytest
from playwright.sync_api import Locator, Page, expect

from tests import world
from tests.browser import Watched, axe
from tests.cast import PASSWORD
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(300)]

WITHIN_MS = 3000
TABLETS = [(1024, 768), (768, 1024)]
# Items of the day's list where “yes” changes nothing.
USUALLY_YES = re.compile("keep your mouth open|want to go ahead")
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


def at_the_chair(agreed_world: World, watched_browser: Watched, number: int) -> Page:
    page = watched_browser.open(agreed_world.address, device="tablet")
    page.goto(f"/sign-in/?next=/chair/{number}/")
    page.locator("input[name=login]").fill("ari@example.org")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"**/chair/{number}/")
    return page


def send(page: Page, wire: str) -> None:
    """One tap, as the page itself would send it."""
    token = page.locator("[name=csrfmiddlewaretoken]").first.input_value()
    form: dict[str, str | float | bool] = {"e": wire, "csrfmiddlewaretoken": token}
    assert page.request.post(f"{page.url}event/", form=form, headers={"X-Tap": "1"}).ok
    page.reload()


def in_reach(page: Page, buttons: Locator, count: int, *, across: int) -> None:
    """On a tablet held either way, with 24 px between two of them."""
    expect(buttons).to_have_count(count)
    for width, height in TABLETS:
        page.set_viewport_size({"width": width, "height": height})
        for button in buttons.all():
            box = button.bounding_box()
            assert box is not None
            assert box["height"] >= 96, (width, button.inner_text(), box)
            assert box["width"] >= 44, (width, button.inner_text(), box)
            assert button.evaluate(IS_IN_REACH), (width, button.inner_text(), box)
            assert button.evaluate(FITS), (width, button.inner_text(), box)
        boxes = [button.bounding_box() for button in buttons.all()]
        gaps = [right["x"] - left["x"] - left["width"] for left, right in pairwise(boxes[:across]) if left and right]
        assert min(gaps) >= 24, (width, gaps)


def test_the_choices_and_the_clock_of_a_whole_session(agreed_world: World, watched_browser: Watched) -> None:
    chair = at_the_chair(agreed_world, watched_browser, 1)
    for wire in ("41:1", "3", "4", "5:0", "6"):
        send(chair, wire)
    expect(chair.locator("[data-step-title]")).to_have_text("Starting shade")
    in_reach(chair, chair.locator(".chair-shades button"), 16, across=8)
    axe(chair)
    for wire in ("7:A3:1:1:1", "8:0:0", "9", "10", "11:2;12:20:", "13:3:2", "16:1:"):
        send(chair, wire)
    clock_on_one_line(chair)
    for wire in ("26", "27:0", "27:1;22:0", "27:2", "27:3", "27:4"):
        send(chair, wire)
    expect(chair.locator("[data-step-title]")).to_have_text("Why was the gel taken off?")
    in_reach(chair, chair.locator(".chair-reasons button"), 8, across=3)
    send(chair, "28:7")
    in_reach(chair, chair.locator(".chair-scores button"), 11, across=6)
    # Out comes the barrier, and Undo says all of that tap: the highest top there is.
    for wire in ("23;24:0", "25:0", "31:2;32"):
        send(chair, wire)
    expect(chair.locator("[data-step-title]")).to_have_text("Final shade, provisional: teeth are dry")
    in_reach(chair, chair.locator(".chair-shades button"), 16, across=8)


def clock_on_one_line(page: Page) -> None:
    page.evaluate(LONG_AGO)
    clock = page.locator(".chair-clock")
    expect(clock).to_have_text("100:05")
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 844})
        assert clock.evaluate(LINES) == [1, True], width


def test_something_is_new_and_the_way_back(agreed_world: World, watched_browser: Watched) -> None:
    """A new medicine is named before the way leads back; meanwhile the chair says that no gel may go on, and why."""
    chair = at_the_chair(agreed_world, watched_browser, 2)
    expect(chair.locator("[data-step-title]")).to_have_text("Ask the questions again")
    chair.get_by_role("link", name="Something is new").click()
    chair.wait_for_url("**/reask/")
    for item in chair.locator("[data-shown-item]").all():
        usual = "yes" if USUALLY_YES.search(item.inner_text()) else "no"
        reply = "yes" if "new medicine" in item.inner_text() else usual
        item.get_by_text(reply, exact=True).click()
    chair.get_by_role("button", name="Record these answers").click()
    chair.wait_for_url("**/ask/")
    chair.get_by_role("link", name="Back to the chair").click()
    chair.wait_for_url("**/chair/2/")
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")
    expect(chair.locator(".chair-warning:visible")).to_have_text("Stop: no gel may go on.")
    expect(chair.locator(".chair-against")).to_have_text("Answers missing")
    axe(chair)
    for width, height in (*TABLETS, (390, 844)):
        chair.set_viewport_size({"width": width, "height": height})
        expect(chair.locator(".chair-against")).to_be_in_viewport(ratio=1)
        expect(chair.get_by_role("link", name="Ask what is still open")).to_be_in_viewport(ratio=1)
    chair.get_by_role("link", name="Ask what is still open").click()
    chair.wait_for_url("**/ask/")
    chair.locator("[name=medicines]").fill("none")
    chair.get_by_text("None of these", exact=True).click()
    chair.get_by_role("button", name="Record the answers").click()
    chair.wait_for_url("**/chair/2/")
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")
    expect(chair.locator(".chair-warning:visible")).to_have_count(0)
    withdrawn_elsewhere(chair)


def withdrawn_elsewhere(chair: Page) -> None:
    """Seen within three seconds: by a notice over what somebody writes, by the screen itself once the field is left."""
    for wire in ("3", "4", "5:0", "6", "7:A3:1:1:1", "8:0:0", "9", "10"):
        send(chair, wire)
    button = chair.locator("[data-withdraw] button")
    for width, height in (*TABLETS, (390, 844)):
        chair.set_viewport_size({"width": width, "height": height})
        expect(button).to_be_in_viewport(ratio=1)
        assert button.evaluate(IS_IN_REACH), width
    chair.locator("summary", has_text="Another number of pieces").click()
    pieces = chair.locator("details[open] select")
    pieces.select_option("5")
    pieces.focus()
    given = chair.locator("[data-withdraw] [name=a]").input_value()
    token = chair.locator("[name=csrfmiddlewaretoken]").first.input_value()
    form: dict[str, str | float | bool] = {"a": given, "csrfmiddlewaretoken": token}
    assert chair.request.post(f"{chair.url}withdraw/", form=form, headers={"X-Tap": "1"}).ok
    notice = chair.locator("[data-news]")
    expect(notice).to_be_visible(timeout=WITHIN_MS)
    expect(notice.locator(".chair-warning")).to_have_text("Stop: no gel may go on.")
    expect(notice.locator(".chair-against")).to_have_text("Consent was withdrawn")
    expect(pieces).to_be_focused()
    expect(pieces).to_have_value("5")
    axe(chair)
    for width, height in (*TABLETS, (390, 844)):
        chair.set_viewport_size({"width": width, "height": height})
        expect(notice.get_by_role("button")).to_be_in_viewport(ratio=1)
    # Told once: asked for again and again, the notice stays as it is.
    with chair.expect_response("**/screen/") as asked:
        pass
    assert asked.value.status == 304
    pieces.blur()
    # It was said within three seconds; the screen itself follows with the next question, however slow the machine.
    expect(chair.locator("[data-chair] > .chair-against")).to_have_text("Consent was withdrawn")
    expect(notice).to_be_hidden()
    expect(button).to_have_count(0)
