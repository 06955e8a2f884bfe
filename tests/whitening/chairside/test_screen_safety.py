"""The screen beside the chair when it matters: a contact, a bad network, a clock that is set, the list of the day."""

from collections.abc import Iterator
from urllib.parse import parse_qs

import pytest
from playwright.sync_api import Locator, Page, Request, Route, expect

from tests import world
from tests.browser import Watched, axe
from tests.cast import PASSWORD
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(300)]

ANOTHER_TOUCH_MS = 700
FIRST_STEP = "Show the stop signal and try it"
SIZES = [(1024, 768), (390, 844), (1280, 800), (768, 1024)]
# What a knuckle would hit in the middle of a control is that control.
IS_ON_TOP = """(button) => {
  const box = button.getBoundingClientRect();
  return button.contains(document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2));
}"""
KEEPS_NOTHING = """indexedDB.open = () => {
  const request = { error: new DOMException("nothing is kept here", "UnknownError") };
  setTimeout(() => request.onerror());
  return request;
}"""
# Every line of the words lies inside the button, and nothing of them is clipped.
IS_WHOLE = """(words) => {
  const outer = words.closest("button").getBoundingClientRect();
  const lines = document.createRange();
  lines.selectNodeContents(words);
  return getComputedStyle(words).overflow === "visible" && [...lines.getClientRects()].every((line) =>
    line.left >= outer.left && line.right <= outer.right && line.top >= outer.top && line.bottom <= outer.bottom);
}"""


@pytest.fixture(scope="module")
def chair_world() -> Iterator[World]:
    with world.start("embedded", seed="tests.whitening.chairside.seed") as started:
        yield started


@pytest.fixture
def chair(chair_world: World, watched_browser: Watched) -> Iterator[Page]:
    watched_browser.expected += ["ERR_INTERNET_DISCONNECTED", "status of 503", "503 from"]
    page = watched_browser.open(chair_world.address, device="tablet")
    page.goto("/sign-in/?next=/chair/1/")
    page.locator("input[name=login]").fill("ari@example.org")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/chair/1/")
    at_step(page, FIRST_STEP)
    yield page
    at_step(page, FIRST_STEP)


def at_step(page: Page, title: str) -> None:
    expect(page.locator("[data-step-title]")).to_have_text(title)


def send(page: Page, wire: str) -> None:
    """A tap of somebody at another screen."""
    token = page.locator("[name=csrfmiddlewaretoken]").first.input_value()
    form: dict[str, str | float | bool] = {"e": wire, "csrfmiddlewaretoken": token}
    assert page.request.post("/chair/1/event/", form=form, headers={"X-Tap": "1"}).ok
    page.reload()


def press(page: Page, button: Locator) -> None:
    page.wait_for_timeout(ANOTHER_TOUCH_MS)
    button.click()


def forward(page: Page) -> None:
    press(page, page.locator(".chair-next"))


def undo(page: Page) -> None:
    press(page, page.locator(".chair-undo"))


def caption(page: Page) -> Locator:
    return page.locator(".chair-undo-what")


def in_view(page: Page, buttons: Locator, *, least: float) -> None:
    size = page.viewport_size
    assert size is not None
    assert buttons.count() > 0
    for button in buttons.all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= least, (button.inner_text(), box)
        assert box["x"] >= 0
        assert box["y"] >= 0
        assert box["x"] + box["width"] <= size["width"], (button.inner_text(), box)
        assert box["y"] + box["height"] <= size["height"], (button.inner_text(), box)
        assert button.evaluate(IS_ON_TOP), button.inner_text()


def test_an_unsettled_contact_has_everything_in_view(chair: Page) -> None:
    """Sizes of the look: Next at least 120 px high, the two corners 96 px, 44 px for whatever else is touched."""
    send(chair, "16:1:")
    send(chair, "29:0")
    for width, height in SIZES:
        chair.set_viewport_size({"width": width, "height": height})
        expect(chair.locator("[data-settle] button")).to_have_count(5)
        in_view(chair, chair.locator("[data-settle] button"), least=96 if width > 640 else 64)
        in_view(chair, chair.locator(".chair-off"), least=96)
        in_view(chair, chair.locator(".chair-undo"), least=96)
        in_view(chair, chair.locator(".chair-next"), least=120)
        in_view(chair, chair.locator(".chair-touched"), least=44)
        expect(chair.locator(".chair-next")).to_have_text("Suction: gel is off")
        expect(chair.locator(".chair-clock")).to_be_in_viewport(ratio=1)
    axe(chair)
    chair.set_viewport_size({"width": 1024, "height": 768})
    undo(chair)
    expect(chair.locator("[data-settle]")).to_have_count(0)
    expect(chair.get_by_role("button", name="Gel is off")).to_be_in_viewport(ratio=1)
    press(chair, chair.get_by_role("button", name="Gel is off"))
    for _taps in range(2):
        # A press before the last one is answered counts as the same one.
        with chair.expect_response("**/event/"):
            undo(chair)
    # The gel clock runs although its entry was taken back; only "gel off" ends it.
    press(chair, chair.get_by_role("button", name="Suction: gel is off"))


def test_undo_says_in_full_what_it_takes_back(chair: Page) -> None:
    taps = {
        "8:0:0": "Photographs: taken with and without the tab",
        "34;35:0": "Advice given · Next steps: as planned",
        "1:3:4:0:0": "People present: ",
    }
    for wire, words in taps.items():
        before = caption(chair).text_content() or ""
        send(chair, wire)
        for width, height in SIZES:
            chair.set_viewport_size({"width": width, "height": height})
            expect(caption(chair)).to_contain_text(words)
            assert caption(chair).evaluate(IS_WHOLE), (width, words)
            expect(caption(chair)).to_be_in_viewport(ratio=1)
        chair.set_viewport_size({"width": 1024, "height": 768})
        undo(chair)
        expect(caption(chair)).to_have_text(before)


def test_each_undo_without_a_network_takes_back_the_last_tap(chair: Page) -> None:
    before = caption(chair).inner_text()
    chair.context.set_offline(True)
    press(chair, chair.locator(".chair-next"))
    expect(caption(chair)).to_have_text("Stop signal shown and tried")
    press(chair, chair.locator("[data-step] .chair-lead"))
    expect(caption(chair)).to_have_text("Splash glasses on")
    undo(chair)
    expect(caption(chair)).to_have_text("Stop signal shown and tried")
    undo(chair)
    expect(caption(chair)).to_have_text(before)
    expect(chair.locator("[data-waiting]")).to_have_text("4")
    chair.context.set_offline(False)
    expect(chair.locator("[data-offline]")).to_be_hidden(timeout=15_000)
    expect(caption(chair)).to_have_text(before)


def test_a_server_that_is_away_loses_no_tap(chair: Page) -> None:
    def away(route: Route) -> None:
        route.fulfill(status=503, body="Away for a moment.")

    chair.route("**/event/", away)
    press(chair, chair.locator(".chair-next"))
    expect(chair.locator("[data-waiting]")).to_have_text("1")
    at_step(chair, "Splash glasses on")
    chair.unroute("**/event/")
    # Nothing more is tapped: it is sent by itself.
    expect(chair.locator("[data-offline]")).to_be_hidden(timeout=15_000)
    at_step(chair, "Splash glasses on")
    undo(chair)


def test_a_second_press_on_a_slow_network_sends_nothing(chair: Page) -> None:
    sent: list[str] = []

    def slowly(route: Route) -> None:
        sent.append(route.request.post_data or "")
        chair.wait_for_timeout(2 * ANOTHER_TOUCH_MS)
        route.continue_()

    chair.route("**/event/", slowly)
    chair.evaluate("""() => {
      const press = () => document.querySelector(".chair-next").click();
      press();
      setTimeout(press, 900);
    }""")
    at_step(chair, "Splash glasses on")
    chair.unroute("**/event/")
    assert len(sent) == 1
    undo(chair)


def test_a_clock_that_is_set_meanwhile_records_the_right_time(chair: Page) -> None:
    told: list[str] = []

    def listen(request: Request) -> None:
        if request.url.endswith("/event/"):
            told.append(parse_qs(request.post_data or "")["at"][0])

    chair.on("request", listen)
    chair.evaluate("() => { const real = Date.now; Date.now = () => real() - 3600000; }")
    press(chair, chair.locator(".chair-next"))
    at_step(chair, "Splash glasses on")
    wrong_by = chair.evaluate("(at) => Math.abs(Date.parse(at) - new Date().getTime())", told[0])
    assert wrong_by < 5000, told
    undo(chair)


def test_the_list_of_the_day_is_shown_before_it_counts(chair: Page) -> None:
    """By itself for whoever reads it out, by the space bar for whoever is quicker."""
    # Its people and its list, the first two entries, are taken back at another screen.
    send(chair, "39:2;39:1")
    at_step(chair, "Who is here?")
    send(chair, "1:3:4:0:0")
    at_step(chair, "Ask the questions again")
    as_before = chair.get_by_role("button", name="All as before, asked by").first
    expect(as_before).to_be_disabled()
    axe(chair)
    items = chair.locator("[data-shown]")
    expect(items.nth(0)).to_be_checked(timeout=15_000)
    expect(as_before).to_be_disabled()
    for item in items.all()[1:]:
        if not item.is_checked():
            item.focus()
            chair.keyboard.press("Space")
    expect(items.locator("visible=true")).to_have_count(items.count())
    expect(as_before).to_be_enabled()
    as_before.focus()
    chair.keyboard.press("Enter")
    at_step(chair, FIRST_STEP)
    expect(caption(chair)).to_contain_text("Questions asked again: ")


def test_a_browser_that_keeps_nothing(chair: Page) -> None:
    """Its taps go out while there is a network; without one the page says so, and shows no step that nobody knows."""
    chair.add_init_script(KEEPS_NOTHING)
    chair.reload()
    forward(chair)
    at_step(chair, "Splash glasses on")
    chair.context.set_offline(True)
    forward(chair)
    expect(chair.locator("[data-needs-network]")).to_be_visible()
    at_step(chair, "Splash glasses on")
    chair.context.set_offline(False)
    undo(chair)
