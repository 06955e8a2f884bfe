"""The register and the diary in a real browser: nobody is shut out, the keys work, nothing is refused by the policy."""

import re
from collections.abc import Iterator
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Locator, Page, expect

from clinic.trail.clock import real_now
from tests import world
from tests.browser import Device, Watched, axe
from tests.cast import PASSWORD
from tests.clinic.diary import seed
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(300)]
DEVICES: tuple[Device, ...] = ("desk", "phone")
TODAY = real_now().astimezone(ZoneInfo("Europe/London")).date()
SEEDED, DAY_AFTER = ((TODAY + timedelta(days=days)).isoformat() for days in (seed.DAYS_AHEAD, seed.DAYS_AHEAD + 1))


@pytest.fixture(scope="module")
def diary_world() -> Iterator[World]:
    with world.start("embedded", seed="tests.clinic.diary.seed") as started:
        yield started


def enter(watched: Watched, running: World, path: str, *, device: Device = "desk", who: str = "dana") -> Page:
    page = watched.open(running.address, device=device)
    page.goto(f"/sign-in/?next={path}")
    page.locator("input[name=login]").fill(f"{who}@example.org")
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"**{path}")
    return page


PAGES = [
    "/patients/",
    "/patients/?q=nobody",
    "/patients/new/",
    "/patients/1/",
    "/patients/1/change/",
    "/patients/1/time/",
    f"/diary/{SEEDED}/",
    f"/diary/{SEEDED}/?by=person",
    f"/diary/{SEEDED}/week/",
    "/diary/2026-01-01/",
    "/bookings/1/",
    "/bookings/4/",
    "/bookings/1/move/",
    "/bookings/1/late/",
    "/waiting/",
    "/patients/1/waiting/",
    "/",
]


@pytest.mark.parametrize("device", DEVICES)
def test_no_page_shuts_anybody_out(diary_world: World, watched_browser: Watched, device: Device) -> None:
    page = enter(watched_browser, diary_world, "/patients/", device=device)
    for address in PAGES:
        page.goto(address)
        axe(page)
        # Nothing to push sideways, but for a table inside its own frame.
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{address} is wider than {device}"


def test_a_key_of_every_page_is_listed_once(diary_world: World, watched_browser: Watched) -> None:
    page = enter(watched_browser, diary_world, "/patients/")
    expect(page.locator("[data-key='/']")).to_have_count(1)
    page.keyboard.press("?")
    keys = page.locator("dialog[open] dt kbd").all_inner_texts()
    assert keys.count("/") == 1
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("look", ["", "?by=person", "week/"])
def test_the_word_now_stays_in_the_column_of_times(diary_world: World, watched_browser: Watched, look: str) -> None:
    page = enter(watched_browser, diary_world, "/patients/")
    page.goto(f"/diary/{SEEDED}/{look}")
    # Whatever the time is: the word is put where it would stand, beside a full and a quarter hour.
    spills = page.evaluate("""() => [...document.querySelectorAll("tbody th")].slice(0, 4).map((cell) => {
      const word = Object.assign(document.createElement("span"), { className: "day-now-word", textContent: "now" });
      cell.append(" ", word);
      return word.getBoundingClientRect().right - cell.getBoundingClientRect().right;
    })""")
    assert len(spills) == 4
    assert max(spills) <= 0


def test_the_keys_of_the_diary(diary_world: World, watched_browser: Watched) -> None:
    page = enter(watched_browser, diary_world, f"/diary/{SEEDED}/")
    links = page.locator("[data-grid] a")
    expect(links).to_have_count(4)
    page.keyboard.press("ArrowDown")
    expect(links.nth(0)).to_be_focused()
    page.keyboard.press("ArrowRight")
    expect(page.get_by_role("link", name="09:00 Ines Costa 1")).to_be_focused()
    page.keyboard.press("ArrowLeft")
    expect(page.get_by_role("link", name="09:00 Amara Nwosu")).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(page.locator("td.day-free:focus")).to_have_attribute("aria-label", re.compile(r"free, 09:\d\d, Willow"))
    axe(page)
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Amara Nwosu: Consultation")
    page.go_back()
    page.keyboard.press("?")
    dialog = page.locator("dialog[open]")
    expect(dialog).to_contain_text("Book a visit: find the patient first")
    axe(page)
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
    page.keyboard.press("]")
    page.wait_for_url(f"**/diary/{DAY_AFTER}/")
    page.keyboard.press("n")
    page.wait_for_url("**/patients/")
    page.keyboard.press("n")
    page.wait_for_url("**/patients/new/")


def tab_to(page: Page, wanted: Locator) -> None:
    for _press in range(80):
        if wanted.evaluate("each => each === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"no way to {wanted}")


def test_a_day_at_the_desk_by_keys_alone(diary_world: World, watched_browser: Watched) -> None:
    """Find, book, move, cancel; receive; and answer for somebody whom a free time is offered."""
    page = enter(watched_browser, diary_world, f"/diary/{DAY_AFTER}/")
    keys, heading = page.keyboard, page.get_by_role("heading", level=1)
    while page.locator("td.day-free:focus").count() == 0:
        keys.press("ArrowDown")
    keys.press("Enter")
    expect(heading).to_contain_text("for whom?")
    axe(page)
    keys.type("tuuli")
    expect(page.locator("#found a")).to_have_text(["Tuuli Kask"])
    keys.press("Tab")
    keys.press("Enter")
    expect(heading).to_contain_text("Find a time for Tuuli Kask")
    keys.press("b")
    expect(heading).to_contain_text("Tuuli Kask: Consultation")
    keys.press("m")
    expect(heading).to_contain_text("Move:")
    keys.press("b")
    expect(page.get_by_text("Moved. The new time is on its way")).to_be_visible()
    tab_to(page, page.get_by_role("radio", name="the patient", exact=True))
    keys.press("Space")
    tab_to(page, page.get_by_role("button", name="Cancel the visit"))
    keys.press("Enter")
    expect(page.get_by_text("Cancelled. The time is free again")).to_be_visible()
    page.goto("/")
    keys.press("a")
    # To the first who may come in; nothing is done yet.
    expect(page.locator("[data-row] [data-item]:focus")).to_have_count(1)
    expect(page.locator("#today_list")).not_to_contain_text("here, waiting")
    keys.press("a")
    expect(page.locator("#today_list")).to_contain_text("here, waiting")
    page.goto(f"/diary/{SEEDED}/")
    keys.press("q")
    expect(heading).to_contain_text("on offer")
    offered = page.get_by_role("listitem").filter(has_text="Ines Costa 5").locator("form[action$='/yes/'] button")
    tab_to(page, offered)
    keys.press("Enter")
    expect(offered).to_have_count(0)


def test_a_visit_is_moved_on_the_page_by_keys_and_by_mouse(diary_world: World, watched_browser: Watched) -> None:
    watched_browser.expected += ["409"]
    page = enter(watched_browser, diary_world, f"/diary/{SEEDED}/")
    bar, answer = page.locator("[data-put-bar]"), page.locator("[data-put-answer]")
    visit = page.get_by_role("link", name="09:00 Amara Nwosu")
    visit.focus()
    page.keyboard.press("m")
    expect(bar).to_contain_text("from 09:00, Willow to 09:00, Willow")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(bar).to_contain_text("to 08:30, Willow")
    expect(page.locator(".day-aim")).to_have_text(["Willow", "08:30", ""])
    axe(page)
    page.keyboard.press("Escape")
    expect(bar).to_be_hidden()
    expect(visit).to_be_focused()
    page.keyboard.press("m")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    expect(answer).to_contain_text("08:30")
    expect(page.get_by_role("link", name="08:30 Amara Nwosu")).to_be_focused()
    # Nobody else did it.
    expect(page.locator("[data-live-status]")).to_be_empty()
    answer.get_by_role("button", name="Put it back").click()
    expect(visit).to_be_visible()
    # Onto a time that is taken: refused in place, and nothing has moved.
    visit.drag_to(page.get_by_role("link", name="11:00 Ines Costa 3"))
    expect(answer.get_by_role("alert")).to_be_focused()
    expect(visit).to_be_visible()
    axe(page)
    visit.drag_to(page.locator("td.day-free").nth(0))
    expect(page.get_by_role("link", name="08:00 Amara Nwosu")).to_be_visible()
    answer.get_by_role("button", name="Put it back").click()
    expect(visit).to_be_visible()


def test_search_duplicates_and_age_while_somebody_types(diary_world: World, watched_browser: Watched) -> None:
    page = enter(watched_browser, diary_world, "/patients/")
    page.locator("#q").press_sequentially("amaar")
    expect(page.locator("#found a")).to_have_text(["Amara Nwosu"])
    page.goto("/patients/new/")
    page.get_by_label("Full name").fill("Nwosu Amara")
    page.get_by_label("Date of birth").fill("17 5 1990")
    page.get_by_label("Telephone").focus()
    expect(page.locator("#look-alikes")).to_contain_text("same name and date of birth")
    page.get_by_label("Date of birth").fill("12 8 2020")
    expect(page.locator("#look-alikes")).to_contain_text("Whitening not before 12 Aug 2038, the 18th birthday.")
    page.get_by_label("Language they want").select_option("ar")
    expect(page.locator("#language-gap")).to_contain_text("no complete Arabic translation is installed")
    axe(page)


def test_a_visit_is_found_and_booked_in_two_presses(diary_world: World, watched_browser: Watched) -> None:
    watched_browser.expected += ["409"]
    # Two windows that show the same free times; not the first of them, whose moment may pass between the presses.
    page, older = (enter(watched_browser, diary_world, "/patients/5/time/") for _window in range(2))
    start = page.locator("main form[method=post] button[name=start_at]").nth(1).get_attribute("value")
    page.locator(f"button[name=start_at][value='{start}']").click()
    page.wait_for_url("**/bookings/*/")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Jip de Wit: Consultation")
    # Pressing in the older window books nothing twice.
    older.locator(f"button[name=start_at][value='{start}']").click()
    expect(older.get_by_role("alert")).to_contain_text("time")
    axe(older)


@pytest.mark.parametrize("device", DEVICES)
def test_a_later_time_is_reached_by_keyboard(diary_world: World, watched_browser: Watched, device: Device) -> None:
    page = enter(watched_browser, diary_world, "/patients/5/time/", device=device)
    # Each takes a day of its own: nobody is in two places at once.
    nth = 1 + DEVICES.index(device)
    page.locator("summary", has_text="Later that day").nth(nth).focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    chosen = page.locator(".opening-times").nth(nth).locator("button").first
    expect(chosen).to_be_focused()
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    start_at = chosen.get_attribute("aria-label") or ""
    page.keyboard.press("Enter")
    page.wait_for_url("**/bookings/*/")
    expect(page.get_by_role("heading", level=1)).to_contain_text(start_at.partition(":")[0].rpartition(" ")[0])


def test_the_patients_page_on_the_practices_tablet(diary_world: World, watched_browser: Watched) -> None:
    page = enter(watched_browser, diary_world, "/bookings/2/", device="tablet")
    page.get_by_role("button", name="Hand over the tablet").click()
    page.wait_for_url("**/p/before/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Before your visit")
    axe(page)
    page.set_viewport_size({"width": 390, "height": 844})
    for link, heading in (
        ("", "Before your visit"),
        ("I need another time", "Pick another time"),
        ("I cannot come", "You cannot come?"),
    ):
        if link:
            page.goto("/p/before/")
            page.get_by_role("link", name=link).click()
        expect(page.get_by_role("heading", level=1)).to_have_text(heading)
        # Everything that can be opened stands open, so that all of it is looked at.
        page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def letter_link(running: World, to: str, subject: str) -> str:
    mail = running.mailbox.wait_for(lambda one: to in str(one["To"]) and subject in str(one["Subject"]))
    body = mail.get_body(("plain",))
    found = re.search(r"/p/l/\S+", body.get_content() if body else "")
    assert found
    return found.group()


def by_letter(page: Page, address: str) -> None:
    """Onto the page that the letter is about, as on a telephone: by the thumb and the keys of its screen."""
    page.goto(address)
    with page.expect_navigation():
        page.get_by_role("button", name="Open my page").tap()
    if page.get_by_role("button", name="Go on").count():
        page.get_by_label("Your date of birth").fill("9 2 1984")
        page.keyboard.press("Enter")


def test_a_patient_takes_an_offer_and_picks_a_time(diary_world: World, watched_browser: Watched) -> None:
    page = watched_browser.open(diary_world.address, device="phone")
    heading = page.get_by_role("heading", level=1)
    by_letter(page, letter_link(diary_world, "nadia@", "A time is free"))
    expect(heading).to_contain_text("Free for you")
    axe(page)
    page.get_by_role("button", name="Yes, I take it").tap()
    expect(heading).to_have_text("This time is yours")
    axe(page)
    by_letter(page, letter_link(diary_world, "nadia@", "Pick your time"))
    expect(heading).to_have_text("Pick a time for your visit")
    more = page.locator("summary").first
    box = more.bounding_box()
    assert box is not None
    assert box["height"] >= 44
    tab_to(page, more)
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(page.locator("details button[name=start_at]:focus")).to_have_count(1)
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.keyboard.press("Enter")
    expect(heading).to_have_text("Your visit is booked")
    axe(page)


def test_a_whole_course_is_held_and_booked(diary_world: World, watched_browser: Watched) -> None:
    page = enter(watched_browser, diary_world, "/patients/?q=oskar")
    page.goto(f"{page.get_by_role('link', name='Oskar Lindgren').get_attribute('href')}case/")
    page.get_by_label("In their words").fill("A little lighter.")
    page.get_by_role("button", name="Open the case").click()
    page.wait_for_url("**/cases/*/time/consultation/")
    case = page.url.removesuffix("time/consultation/")
    page.goto(f"{case}course/")
    axe(page)
    steps = page.locator("section.openings").first.get_by_role("listitem")
    expect(steps).to_have_count(3)
    tab_to(page, page.get_by_role("button", name="Hold all of it").first)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Held, not booked yet")).to_be_visible()
    axe(page)
    tab_to(page, page.get_by_role("button", name="Book all of it"))
    page.keyboard.press("Enter")
    page.wait_for_url(case)
    expect(page.locator("main a[href^='/bookings/']")).to_have_count(3)


def test_a_change_of_another_desk_appears_by_itself(diary_world: World, watched_browser: Watched) -> None:
    """Within three seconds, but never under a finger; the focus stays on the visit that it was on."""
    address = f"/diary/{SEEDED}/"
    here, there = (enter(watched_browser, diary_world, address) for _desk in range(2))
    visit = here.get_by_role("link", name="10:00 Ines Costa 2")
    there.goto(there.get_by_role("link", name="10:00 Ines Costa 2").get_attribute("href") or "")
    here.mouse.move(5, 5)
    here.mouse.down()
    there.get_by_text("the patient", exact=True).click()
    there.get_by_role("button", name="Cancel the visit").click()
    there.get_by_text("Cancelled. The time is free again").wait_for()
    here.wait_for_timeout(3000)
    expect(visit).to_have_count(1)
    here.get_by_role("link", name="09:00 Ines Costa 1").focus()
    here.mouse.up()
    expect(visit).to_have_count(0, timeout=3000)
    expect(here.locator("h1")).to_contain_text("3 visits")
    expect(here.locator("[data-live-status]")).to_contain_text("Another desk")
    expect(here.get_by_role("link", name="09:00 Ines Costa 1")).to_be_focused()
    axe(here)
    # As after midnight: another day, so the whole page follows.
    here.evaluate("document.title = 'Yesterday'")
    there.get_by_role("button", name="Take it back").click()
    expect(visit).to_have_count(1, timeout=3000)
    expect(here).to_have_title(re.compile("^Diary: "))
