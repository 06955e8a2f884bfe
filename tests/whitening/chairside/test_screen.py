"""The screen beside the chair in a real browser: places, bouncing knuckles, no network, a second screen."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests import world
from tests.browser import Watched, axe
from tests.cast import PASSWORD
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(300)]

# Longer than touches in the same place count as one.
ANOTHER_TOUCH_MS = 700
READ_KEPT = """() => new Promise((resolve) => {
  const request = indexedDB.open("chair");
  request.onsuccess = () => {
    const all = request.result.transaction("taps").objectStore("taps").getAll();
    all.onsuccess = () => resolve(all.result);
  };
})"""


@pytest.fixture(scope="module")
def chair_world() -> Iterator[World]:
    with world.start("embedded", seed="tests.whitening.chairside.seed") as started:
        yield started


@pytest.fixture
def chair(chair_world: World, watched_browser: Watched) -> Page:
    # Losing the network on purpose is what these tests are about.
    watched_browser.expected += ["ERR_INTERNET_DISCONNECTED"]
    page = watched_browser.open(chair_world.address, device="tablet")
    page.goto("/sign-in/?next=/chair/1/")
    page.locator("input[name=login]").fill("ari@example.org")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/chair/1/")
    return page


def forward(page: Page) -> None:
    page.wait_for_timeout(ANOTHER_TOUCH_MS)
    page.locator(".chair-next").click()


def undo(page: Page) -> None:
    page.wait_for_timeout(ANOTHER_TOUCH_MS)
    page.locator(".chair-undo").click()


def test_a_tap_leads_on_and_undo_leads_back(chair: Page) -> None:
    axe(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")
    forward(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Splash glasses on")
    undo(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")


def test_three_places_that_never_move(chair: Page) -> None:
    places = {part: chair.locator(part).bounding_box() for part in (".chair-off", ".chair-undo", ".chair-next")}
    off, back, lead = (places[part] for part in (".chair-off", ".chair-undo", ".chair-next"))
    assert off is not None
    assert back is not None
    assert lead is not None
    assert lead["height"] >= 120
    assert lead["width"] == 1024 - 2 * 24
    assert min(off["height"], back["height"]) >= 96
    assert back["x"] - (off["x"] + off["width"]) >= 24
    assert lead["y"] - (off["y"] + off["height"]) >= 24


def test_a_bouncing_knuckle_counts_once(chair: Page) -> None:
    forward(chair)
    chair.locator(".chair-bottom").click(force=True, position={"x": 480, "y": 60})
    expect(chair.locator("[data-step-title]")).to_have_text("Splash glasses on")
    chair.wait_for_timeout(ANOTHER_TOUCH_MS)
    expect(chair.locator("[data-step-title]")).to_have_text("Splash glasses on")
    undo(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")


def test_without_a_network_nothing_is_lost(chair: Page) -> None:
    chair.context.set_offline(True)
    forward(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Splash glasses on")
    chair.wait_for_timeout(ANOTHER_TOUCH_MS)
    chair.locator("[data-step] .chair-lead").click()
    expect(chair.locator("[data-step-title]")).to_have_text("Polish with oil-free paste, rinse")
    expect(chair.locator("[data-waiting]")).to_have_text("2")
    kept = chair.evaluate(READ_KEPT)
    assert [each["e"] for each in kept] == ["3", "4"]
    assert {key for each in kept for key in each} == {"a", "at", "e", "id", "order", "session", "to"}
    chair.context.set_offline(False)
    expect(chair.locator("[data-offline]")).to_be_hidden(timeout=15_000)
    expect(chair.locator("[data-step-title]")).to_have_text("Polish with oil-free paste, rinse")
    assert chair.evaluate(READ_KEPT) == []
    undo(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Splash glasses on")
    undo(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")


def test_a_tap_is_kept_while_the_database_is_away(chair: Page, watched_browser: Watched) -> None:
    """The network is there, and the server answers that it cannot write just now."""
    watched_browser.expected += [r"\b503\b"]
    chair.route("**/event/", lambda route: route.fulfill(status=503, body="The casebook cannot answer just now"))
    forward(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Splash glasses on")
    expect(chair.locator("[data-waiting]")).to_have_text("1")
    assert [each["e"] for each in chair.evaluate(READ_KEPT)] == ["3"]
    chair.unroute("**/event/")
    expect(chair.locator("[data-offline]")).to_be_hidden(timeout=15_000)
    chair.reload()
    expect(chair.locator("[data-step-title]")).to_have_text("Splash glasses on")
    undo(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")


def test_words_are_never_kept_behind_waiting_taps(chair: Page) -> None:
    """They are asked for again, where a tap of theirs would be sent without them."""
    chair.context.set_offline(True)
    forward(chair)
    expect(chair.locator("[data-waiting]")).to_have_text("1")
    # The one form with words comes at the very end of a session; this one stands in for it.
    chair.locator("[data-step] form[data-tap]").first.evaluate("""(form) => {
      form.dataset.words = "";
      form.insertAdjacentHTML("beforeend", "<textarea name=words>it stung</textarea>");
      form.requestSubmit();
    }""")
    expect(chair.locator("[data-needs-network]")).to_be_visible()
    assert [each["e"] for each in chair.evaluate(READ_KEPT)] == ["3"]
    chair.context.set_offline(False)
    expect(chair.locator("[data-offline]")).to_be_hidden(timeout=15_000)
    undo(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")


def test_taking_back_without_a_network(chair: Page) -> None:
    chair.context.set_offline(True)
    forward(chair)
    undo(chair)
    expect(chair.locator("[data-waiting]")).to_have_text("2")
    chair.context.set_offline(False)
    expect(chair.locator("[data-offline]")).to_be_hidden(timeout=15_000)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")


def test_a_second_screen_follows(chair: Page) -> None:
    other = chair.context.new_page()
    other.goto("/chair/1/")
    forward(chair)
    expect(other.locator("[data-step-title]")).to_have_text("Splash glasses on", timeout=15_000)
    undo(chair)
    expect(other.locator("[data-step-title]")).to_have_text("Show the stop signal and try it", timeout=15_000)


def test_take_the_gel_off_and_a_contact_are_one_tap_away(chair: Page) -> None:
    chair.locator(".chair-off").click()
    expect(chair.locator("[data-step-title]")).to_have_text("Take the gel off now")
    undo(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")
    chair.get_by_role("button", name="Lip", exact=True).click()
    expect(chair.locator(".chair-notice:not([data-news])")).to_contain_text("Lip")
    axe(chair)
    chair.wait_for_timeout(ANOTHER_TOUCH_MS)
    chair.get_by_role("button", name="by mistake").click()
    expect(chair.locator(".chair-notice:not([data-news])")).to_have_count(0)


def test_wiping_the_screen_ignores_touch(chair: Page) -> None:
    chair.locator("[data-wipe]").click()
    expect(chair.locator("[data-wipe-left]")).to_be_visible()
    forward(chair)
    chair.wait_for_timeout(ANOTHER_TOUCH_MS)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")


def test_the_emergency_needs_no_network(chair: Page) -> None:
    chair.context.set_offline(True)
    chair.locator(".chair-off").click()
    for words in ("Suction", "Wipe", "Rinse"):
        lead = chair.locator("[data-step] .chair-lead")
        expect(lead).to_have_text(words)
        chair.wait_for_timeout(ANOTHER_TOUCH_MS)
        lead.click()
    chair.context.set_offline(False)
    expect(chair.locator("[data-offline]")).to_be_hidden(timeout=15_000)
    expect(chair.locator(".chair-next")).to_have_text("Barrier off")
    # A press before the last one is answered counts as the same one.
    for _taps in range(4):
        with chair.expect_response("**/event/"):
            undo(chair)
    expect(chair.locator("[data-step-title]")).to_have_text("Show the stop signal and try it")
