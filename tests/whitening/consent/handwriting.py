"""Writing in the box to sign in, as a hand does it on glass."""

from playwright.sync_api import Locator, Page

PLACES = [(0.2, 0.6), (0.3, 0.2), (0.4, 0.7), (0.5, 0.3), (0.7, 0.6)]
# Said to the box itself: one finger writes two strokes while another one touches the glass.
TWO_FINGERS = """box => {
  const frame = box.getBoundingClientRect();
  const at = (type, x, y, id) => box.dispatchEvent(new PointerEvent(type, {
    pointerId: id, pointerType: "touch", isPrimary: id === 7, bubbles: true, cancelable: true, button: 0,
    clientX: frame.left + frame.width * x, clientY: frame.top + frame.height * y,
  }));
  box.setPointerCapture = () => {};
  at("pointerdown", 0.1, 0.5, 7);
  at("pointermove", 0.3, 0.2, 7);
  at("pointerdown", 0.9, 0.9, 8);
  at("pointermove", 0.5, 0.8, 7);
  at("pointerup", 0.5, 0.8, 7);
  at("pointerdown", 0.7, 0.5, 7);
  at("pointerup", 0.7, 0.5, 7);
}"""


def write_with_a_finger(page: Page, box: Locator) -> None:
    """One stroke, as the glass reports it: were the page to scroll under the finger, it would be broken off."""
    box.scroll_into_view_if_needed()
    frame = box.bounding_box()
    assert frame is not None
    glass = page.context.new_cdp_session(page)
    spots = [{"x": frame["x"] + frame["width"] * x, "y": frame["y"] + frame["height"] * y} for x, y in PLACES]
    for kind, spot in [("touchStart", spots[0]), *(("touchMove", spot) for spot in spots[1:])]:
        glass.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [spot]})
    glass.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
