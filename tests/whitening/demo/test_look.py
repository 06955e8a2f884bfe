"""The style page in a real browser: no violation of axe or of the content policy, and every module does its work."""

import io
import threading
from collections.abc import Iterator
from wsgiref.simple_server import WSGIRequestHandler

import pytest
from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.core.handlers.wsgi import WSGIHandler
from django.core.servers.basehttp import ThreadedWSGIServer
from django.test import override_settings
from django.urls import path
from PIL import Image
from playwright.sync_api import FloatRect, Locator, Page

from clinic.documents import fonts
from tests.browser import Device, Watched, axe, watched
from tests.clinic.look.contrast import TEXT, Colour, behind_amber, luminance, ratio
from whitening.demo.views import look

urlpatterns = [
    path("look/", look.staff_page),
    path("look/patient/", look.patient_page),
    path("look/chairside/", look.chairside_page),
]
PAGES = ("/look/", "/look/?language=ar", "/look/patient/", "/look/patient/?language=ar", "/look/chairside/")


class _Silent(WSGIRequestHandler):
    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        """A request line is no news to a test."""


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    """The style page on a port of its own. It asks the database nothing, so none is prepared."""
    fonts.build()
    with override_settings(ROOT_URLCONF=__name__):
        server = ThreadedWSGIServer(("127.0.0.1", 0), _Silent)
        server.set_app(StaticFilesHandler(WSGIHandler()))
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        server.server_close()
        thread.join()


@pytest.fixture(scope="module")
def browser() -> Iterator[Watched]:
    with watched() as watch:
        yield watch


@pytest.mark.parametrize(("device", "scheme"), [("desk", "light"), ("phone", "dark")])
@pytest.mark.parametrize("page", PAGES)
def test_it_works(browser: Watched, address: str, page: str, device: Device, scheme: str) -> None:
    tab = browser.open(address, device=device, color_scheme=scheme)
    tab.goto(page)
    axe(tab)
    assert _sideways(tab) == 0
    tab.context.close()


def test_our_own_type_is_drawn(browser: Watched, address: str) -> None:
    tab = browser.open(address)
    tab.goto("/look/")
    tab.wait_for_function("document.fonts.status === 'loaded'")
    loaded = tab.evaluate("[...document.fonts].filter(f => f.status === 'loaded').map(f => f.family + f.weight)")
    assert {name.replace('"', "") for name in loaded} >= {"Casebook Sans400", "Casebook Sans600", "Casebook Arabic600"}


@pytest.mark.parametrize("amber", [False, True], ids=["plain", "amber"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_contrast_measured_on_the_picture(browser: Watched, address: str, scheme: str, amber: bool) -> None:
    """What is seen, not what is written in the style sheet: the extreme colours inside each part's own box."""
    tab = browser.open(address, color_scheme=scheme, device_scale_factor=3)
    tab.goto("/look/")
    tab.wait_for_function("document.fonts.status === 'loaded'")
    for part in (".mark-word", ".page-aside .mark-must-not", ".actions .button", ".lead", ".hint", ".error p"):
        colours = _colours(tab.locator(part).first)
        seen = [behind_amber(colour) for colour in colours] if amber else colours
        extremes = min(seen, key=luminance), max(seen, key=luminance)
        assert ratio(*extremes) >= TEXT, part


def test_targets_are_large_enough(browser: Watched, address: str) -> None:
    tab = browser.open(address, device="phone")
    tab.goto("/look/")
    for part in (".button", ".quiet", ".rail-entry", ".rail-more", ".choice label", "select", "input[type=search]"):
        for each in tab.locator(part).all():
            box = each.bounding_box()
            assert box is None or box["height"] >= 44, part


def test_chairside_places_and_sizes(browser: Watched, address: str) -> None:
    tab = browser.open(address, device="tablet")
    tab.goto("/look/chairside/")
    off, undo, forward = (_box(tab.locator(part)) for part in (".chair-off", ".chair-undo", ".chair-next"))
    assert forward["height"] >= 120
    assert forward["width"] == 1024 - 2 * 24
    assert min(off["height"], off["width"], undo["height"], undo["width"]) >= 96
    assert undo["x"] - (off["x"] + off["width"]) >= 24
    assert forward["y"] - (off["y"] + off["height"]) >= 24
    sizes = {part: _font_px(tab.locator(part).first) for part in (".chair-clock", "h2", ".chair-arm", ".chair-next")}
    assert sizes == {".chair-clock": 120, "h2": 56, ".chair-arm": 40, ".chair-next": 56}


def test_h_hides_every_name_and_the_next_page_remembers(browser: Watched, address: str) -> None:
    tab = browser.open(address)
    tab.goto("/look/patient/")
    tab.goto("/look/")
    name = tab.locator("[data-person]").first
    tab.locator("h1").click()
    tab.keyboard.press("h")
    assert name.evaluate("e => getComputedStyle(e).visibility") == "hidden"
    shown = name.evaluate("e => getComputedStyle(e, '::after').content")
    assert shown.strip('"') == name.get_attribute("data-person") != ""
    assert tab.locator("[data-hide-names]").get_attribute("aria-pressed") == "true"
    tab.reload()
    assert tab.locator("html").get_attribute("data-names") == "hidden"
    tab.locator("[data-hide-names]").click()
    assert name.evaluate("e => getComputedStyle(e).visibility") == "visible"


def test_keys_are_listed_and_can_be_turned_off(browser: Watched, address: str) -> None:
    """WCAG 2.2, success criterion 2.1.4: single-character shortcuts can be turned off."""
    tab = browser.open(address)
    tab.goto("/look/")
    tab.locator("h1").click()
    tab.keyboard.press("?")
    dialog = tab.locator("#keys")
    assert dialog.is_visible()
    assert dialog.locator("dd").all_inner_texts()[-1] == "Find a time"
    dialog.locator("[data-keys-switch]").uncheck()
    tab.keyboard.press("Escape")
    tab.keyboard.press("?")
    assert not dialog.is_visible()


def test_slash_goes_to_the_search_and_typing_there_is_no_key(browser: Watched, address: str) -> None:
    tab = browser.open(address)
    tab.goto("/look/")
    tab.locator("h1").click()
    tab.keyboard.press("/")
    tab.keyboard.type("h?")
    assert tab.locator("#find").input_value() == "h?"
    assert tab.locator("html").get_attribute("data-names") is None


def test_the_list_of_problems_has_the_cursor_and_leads_to_a_control(browser: Watched, address: str) -> None:
    tab = browser.open(address)
    tab.goto("/look/")
    assert tab.evaluate("document.activeElement.className") == "errors"
    tab.locator(".errors a").nth(1).click()
    assert tab.evaluate("document.activeElement.id") == "wrong_born_on"


def test_light_or_dark_by_hand(browser: Watched, address: str) -> None:
    tab = browser.open(address)
    tab.goto("/look/")
    before = _ground(tab)
    tab.locator("[data-theme-toggle]").click()
    assert _ground(tab) != before
    tab.reload()
    assert tab.locator("html").get_attribute("data-theme") == "dark"


def test_more_opens_on_a_phone(browser: Watched, address: str) -> None:
    tab = browser.open(address, device="phone")
    tab.goto("/look/")
    assert not tab.get_by_role("link", name="Set-up").is_visible()
    tab.locator(".rail-more").click()
    assert tab.get_by_role("link", name="Set-up").is_visible()


def test_the_bouncing_knuckle_counts_once(browser: Watched, address: str) -> None:
    tab = browser.open(address, device="tablet")
    tab.goto("/look/chairside/")
    tab.evaluate("() => { window.presses = 0; document.querySelector('.chair-next').onclick = () => { presses += 1 } }")
    tab.locator(".chair-next").dblclick()
    assert tab.evaluate("window.presses") == 1
    tab.wait_for_timeout(700)
    tab.locator(".chair-next").click()
    assert tab.evaluate("window.presses") == 2


def test_a_label_still_ticks_its_box(browser: Watched, address: str) -> None:
    """One press on a label is two clicks for the browser, in the same place and at once."""
    tab = browser.open(address, device="tablet")
    tab.goto("/look/chairside/")
    tab.locator("label[for=try]").click(position={"x": 20, "y": 20})
    assert tab.locator("#try").is_checked()
    tab.wait_for_timeout(700)
    tab.locator("label[for=try]").dblclick(position={"x": 20, "y": 20})
    assert not tab.locator("#try").is_checked()
    tab.wait_for_timeout(700)
    tab.locator("#try").dblclick()
    assert tab.locator("#try").is_checked()


# A part that asks for itself whenever it is told to, as it would by its clock.
POLLING = """() => {
  const part = document.createElement("div");
  for (const [name, value] of [["data-background", ""], ["hx-get", "/look/patient/"], ["hx-trigger", "go"]]) {
    part.setAttribute(name, value);
  }
  document.body.append(part);
  htmx.process(part);
  window.ask = () => htmx.trigger(part, "go");
}"""


def test_what_a_page_asks_for_by_itself_is_marked(browser: Watched, address: str) -> None:
    tab = browser.open(address)
    tab.goto("/look/")
    tab.evaluate(POLLING)
    with tab.expect_request("**/look/patient/") as asked:
        tab.evaluate("ask()")
    assert asked.value.headers["x-background"] == "1"


def test_it_waits_while_a_dialog_is_open(browser: Watched, address: str) -> None:
    tab = browser.open(address)
    tab.goto("/look/")
    tab.evaluate(POLLING)
    asked: list[str] = []
    # A picture of the page may still be on its way: only what the part asks for counts.
    tab.on("request", lambda request: asked.append(request.url) if request.url.endswith("/look/patient/") else None)
    tab.locator("[data-open-keys]").click()
    tab.evaluate("ask()")
    tab.wait_for_timeout(300)
    assert asked == []
    tab.keyboard.press("Escape")
    with tab.expect_request("**/look/patient/"):
        tab.evaluate("ask()")


def test_nothing_moves_for_those_who_asked_for_rest(browser: Watched, address: str) -> None:
    tab = browser.open(address, reduced_motion="reduce")
    tab.goto("/look/")
    assert tab.locator(".button").first.evaluate("e => getComputedStyle(e).transitionDuration") == "0s"


def test_hidden_at_the_end_of_a_line_nothing_sticks_out(browser: Watched, address: str) -> None:
    """Wherever a number would break into the next line: what stands in its place goes with it."""
    tab = browser.open(address)
    tab.set_viewport_size({"width": 390, "height": 844})
    tab.goto("/look/")
    tab.locator("html").evaluate("root => { root.dataset.names = 'hidden' }")
    number = '<a href="#x"><bdi data-person="•••"><bdi class="digits" dir="ltr">+44 20 7946 0901</bdi></bdi></a>'
    tab.locator("main").evaluate("(main, number) => { main.innerHTML = `<p>ab <i></i> · ${number}</p>` }", number)
    wide = []
    for letters in range(40, 100):
        tab.locator("main i").evaluate("(part, letters) => { part.textContent = 'i'.repeat(letters) }", letters)
        wide += [letters] if _sideways(tab) > 0 else []
    assert wide == []


def test_print_is_black_on_white_without_the_frame(browser: Watched, address: str) -> None:
    tab = browser.open(address, color_scheme="dark")
    tab.goto("/look/")
    tab.emulate_media(media="print", color_scheme="dark")
    assert _ground(tab) == "rgb(255, 255, 255)"
    assert tab.locator("h1").evaluate("e => getComputedStyle(e).color") == "rgb(0, 0, 0)"
    assert not tab.locator(".rail").is_visible()


def _sideways(tab: Page) -> int:
    return int(tab.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def _ground(tab: Page) -> str:
    return str(tab.evaluate("getComputedStyle(document.documentElement).backgroundColor"))


def _box(part: Locator) -> FloatRect:
    box = part.bounding_box()
    assert box is not None
    return box


def _font_px(part: Locator) -> float:
    return float(part.evaluate("e => parseFloat(getComputedStyle(e).fontSize)"))


def _colours(part: Locator) -> list[Colour]:
    picture = Image.open(io.BytesIO(part.screenshot())).convert("RGB")
    counted = picture.getcolors(picture.width * picture.height) or []
    # A colour that only a handful of pixels has belongs to the edge of a letter.
    return [colour for count, colour in counted if count >= 12 and isinstance(colour, tuple)]  # type: ignore[misc]
