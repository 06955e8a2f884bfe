"""The pages in a real browser: axe, the content policy, the box to sign in, the picture of the arches."""

import json
import re
from collections.abc import Callable, Iterator, Sequence
from io import BytesIO
from typing import Any

import pytest
from playwright.sync_api import Page, StorageState, expect
from pypdf import PdfReader

from tests import world
from tests.browser import Device, Watched, axe, watched
from tests.cast import PASSWORD, TOTP_SECRET
from tests.clinic.accounts.totp import lasting_totp
from tests.whitening.consent import seed
from tests.whitening.consent.handwriting import TWO_FINGERS, write_with_a_finger
from tests.world import World
from whitening.consent.wording import shipped

pytestmark = [pytest.mark.world, pytest.mark.timeout(300)]
# The seed's cases: whoever signs has one of their own, so the order of the tests does not matter.
PAGES, WORRYING, BY_HAND, BY_KEYBOARD, ON_PAPER = 1, 2, 3, 4, 5
CLINICIAN, MANAGER = "cleo@example.org", "mara@example.org"
WITHIN_MS = 3000


@pytest.fixture(scope="module")
def consent_world() -> Iterator[World]:
    with world.start("embedded", seed="tests.whitening.consent.seed") as started:
        yield started


def sign_in(browser: Watched, home: World, email: str, *, device: Device = "desk") -> Page:
    """The assistant needs no second factor; a code of the clinician's can be used once in half a minute."""
    # The browser itself notes each refusal that a test provokes.
    browser.expected += ["status of 409", "status of 422"]
    page = browser.open(home.address, device=device)
    page.goto("/sign-in/?next=/patients/")
    page.locator("input[name=login]").fill(email)
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    if email in {CLINICIAN, MANAGER}:
        page.locator("input[name=code]").fill(lasting_totp(TOTP_SECRET))
        page.locator("input[name=code]").press("Enter")
    page.wait_for_url("**/patients/")
    return page


@pytest.fixture(scope="module")
def signed_in(consent_world: World) -> StorageState:
    """The clinician's sign-in, shared: each test opens a browser of its own with it."""
    with watched() as browser:
        return sign_in(browser, consent_world, CLINICIAN).context.storage_state()


@pytest.fixture
def clinician(consent_world: World, signed_in: StorageState, watched_browser: Watched) -> Callable[..., Page]:
    def opened(path: str, **options: Any) -> Page:
        watched_browser.expected += ["status of 409", "status of 422"]
        page = watched_browser.open(consent_world.address, storage_state=signed_in, **options)
        page.goto(path)
        return page

    return opened


def hand_over(browser: Watched, home: World, case: int, *, device: Device) -> Page:
    page = sign_in(browser, home, "ari@example.org", device=device)
    page.goto(f"/cases/{case}/consent/")
    page.get_by_role("button", name="Hand over the tablet").click()
    page.wait_for_url("**/p/before/")
    return page


def tick(page: Page, control: str) -> None:
    """As a finger does it: on the label, which lies over its control."""
    page.locator(f"label[for='{control}']").click()


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"))


def look(page: Page) -> None:
    axe(page)
    assert fits(page), page.url


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_clinicians_pages(clinician: Callable[..., Page], device: Device) -> None:
    page = clinician(f"/cases/{WORRYING}/assessment/", device=device)
    look(page)
    page.locator("summary", has_text="Decide").first.click()
    page.locator("summary", has_text="Write to a doctor").first.click()
    look(page)
    for path in ("examination/", "plan/", "reask/", "ask/", "consent/", "consent/paper/", "papers/"):
        page.goto(f"/cases/{WORRYING}/{path}")
        look(page)
    # With what a refusal shows.
    page.goto(f"/cases/{WORRYING}/plan/")
    page.locator("#id_product").select_option(index=1)
    for control in ("id_arches_0", "id_arches_1", "id_light_0", "id_isolation_0"):
        tick(page, control)
    page.get_by_label("Fee").fill("400")
    page.get_by_role("button", name="Record the plan").click()
    expect(page.locator("body")).to_contain_text("This plan cannot be kept.")
    look(page)
    page.goto(f"/cases/{PAGES}/consent/")
    look(page)


def test_the_picture_of_the_arches(clinician: Callable[..., Page]) -> None:
    page = clinician(f"/cases/{WORRYING}/examination/")
    tooth = page.get_by_role("button", name="11, upper right central incisor")
    entry = page.locator('[data-tooth-entry="11"]')
    expect(entry).to_be_hidden()
    tooth.click()
    expect(tooth).to_have_attribute("aria-expanded", "true")
    expect(entry.locator("input").first).to_be_focused()
    tick(page, "id_tooth_11_0")
    expect(tooth).to_have_attribute("data-entered", "")
    # By keyboard: along the arch, across to the other one, and open.
    tooth.focus()
    page.keyboard.press("ArrowRight")
    expect(page.get_by_role("button", name="21, upper left central incisor")).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(page.get_by_role("button", name="31, lower left central incisor")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator('[data-tooth-entry="31"]')).to_be_visible()
    look(page)
    tick(page, "id_periodontitis_0")
    tick(page, "id_everything")
    page.get_by_role("button", name="Record the examination").click()
    page.wait_for_url("**/assessment/")
    expect(page.locator("main")).to_contain_text("11, upper right central incisor")


@pytest.mark.parametrize("size", [(768, 1024), (390, 844)])
def test_on_a_narrow_screen_each_row_of_the_arches_says_which_quarter_it_is(
    clinician: Callable[..., Page], size: tuple[int, int]
) -> None:
    page = clinician(f"/cases/{WORRYING}/examination/")
    page.set_viewport_size({"width": size[0], "height": size[1]})
    rows = page.locator(".quarter")
    assert [one.locator(".quarter-name").inner_text() for one in rows.all()] == [
        "Upper right", "Upper left", "Lower right", "Lower left"
    ]  # fmt: skip
    tops = [box["y"] for one in rows.all() if (box := one.bounding_box())]
    assert tops == sorted(set(tops))
    sides = [min(box["width"], box["height"]) for one in page.locator(".tooth").all() if (box := one.bounding_box())]
    assert len(sides) == 32
    assert min(sides) >= 44
    assert "their right is on the left" not in page.locator("[data-teeth] .hint").inner_text()
    # Down goes to the row below, as one sees it.
    page.get_by_role("button", name="11, upper right central incisor").focus()
    page.keyboard.press("ArrowDown")
    expect(page.get_by_role("button", name="28, upper left third molar")).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(page.get_by_role("button", name="41, lower right central incisor")).to_be_focused()


def test_the_examination_without_any_script(clinician: Callable[..., Page]) -> None:
    plain = clinician(f"/cases/{WORRYING}/examination/", java_script_enabled=False)
    plain.locator("summary", has_text="21, upper left central incisor").click()
    tick(plain, "id_tooth_21_0")
    tick(plain, "id_periodontitis_0")
    tick(plain, "id_everything")
    plain.get_by_role("button", name="Record the examination").click()
    plain.wait_for_url("**/assessment/")
    expect(plain.locator("main")).to_contain_text("21, upper left central incisor")


def test_the_practice_words_its_consent_anew(consent_world: World, watched_browser: Watched) -> None:
    """Refused by name, looked at, kept, compared, taken into use: all of it by keyboard, on the narrowest screen."""
    page = sign_in(watched_browser, consent_world, MANAGER, device="phone")
    page.goto("/setup/consent-wording/")
    look(page)
    page.get_by_role("link", name=re.compile("The program’s version 2.*English")).press("Enter")
    look(page)
    page.get_by_role("link", name="Write a new version from it").press("Enter")
    look(page)
    page.locator("summary", has_text="15. What it costs").press("Enter")
    words = page.get_by_label("Words of 15")
    fee = words.input_value()
    words.fill(fee.replace("{fee}", "400"))
    page.get_by_label("What you change, and why").fill("Plainer")
    page.get_by_role("button", name="Keep as the next version").press("Enter")
    expect(page.locator(".errors")).to_contain_text("Element 15 does not name {fee}.")
    look(page)
    words.fill(f"{fee} Ask us.")
    page.get_by_role("button", name="Look at it first").press("Enter")
    expect(page.locator("ins")).to_have_text(["put in: Ask us."])
    look(page)
    page.get_by_role("button", name="Keep as the next version").first.press("Enter")
    expect(page.locator("h1")).to_have_text("Consent in English, version 2.1")
    look(page)
    page.get_by_role("button", name="Take it into use").press("Enter")
    expect(page.locator(".lead")).to_contain_text("In use since")
    page.goto("/setup/consent-wording/de/2/")
    look(page)


@pytest.mark.parametrize("device", ["phone", "tablet"])
def test_patients_pages(consent_world: World, watched_browser: Watched, device: Device) -> None:
    page = hand_over(watched_browser, consent_world, PAGES, device=device)
    look(page)
    for path in (
        "questions/thanks/",
        "questions/medicines/",
        "questions/eyes/",
        "questions/sensitivity/",
        "reading/",
        "photographs/",
        "sign/",
        "prepare/",
        "prepare/paper/",
    ):
        page.goto(f"/p/{path}")
        look(page)


def test_names_are_offered_while_a_medicine_is_typed(consent_world: World, watched_browser: Watched) -> None:
    """One press puts the name into the line that is being typed; the other lines stay as they are."""
    page = hand_over(watched_browser, consent_world, PAGES, device="phone")
    page.goto("/p/questions/medicines/")
    field, offered = page.locator("#answer"), page.locator("[data-suggested] button")
    field.press_sequentially("my green drops\nAmío")
    expect(offered).to_have_text(["amiodarone"])
    expect(page.locator("[role=status]").last).to_have_text("Names that fit: 1")
    look(page)
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(field).to_have_value("my green drops\namiodarone")
    expect(field).to_be_focused()
    expect(offered).to_have_count(0)
    field.press_sequentially("\nsomething unheard of")
    expect(offered).to_have_count(0)


def test_signing_by_finger_on_a_phone(
    consent_world: World, clinician: Callable[..., Page], watched_browser: Watched
) -> None:
    """What was drawn is still there after a refusal; then signed, read back, checked by a stranger, withdrawn."""
    page = hand_over(watched_browser, consent_world, BY_HAND, device="phone")
    page.goto("/p/sign/")
    box, kept = page.locator("svg.signature"), page.locator("input[name=strokes]")
    box.evaluate(TWO_FINGERS)
    touched = page.evaluate("JSON.parse(document.querySelector('input[name=strokes]').value)")
    # The second finger wrote nothing, and a dot is a stroke of one point.
    assert [[point[:2] for point in stroke] for stroke in touched] == [
        [[100, 150], [300, 60], [500, 240]],
        [[700, 150]],
    ]
    page.get_by_role("button", name="Clear the box").click()
    assert kept.input_value() == ""
    expect(box.locator("path")).to_have_count(0)
    write_with_a_finger(page, box)
    expect(box.locator("path")).to_have_count(1)
    drawn = kept.input_value()
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.locator(".errors")).to_be_visible()
    look(page)
    assert kept.input_value() == drawn
    expect(box.locator("path")).to_have_count(1)
    for use in ("record", "teaching", "publication", "public"):
        tick(page, f"id_photo_{use}_1")
    tick(page, "id_declared")
    page.get_by_label("My full name").fill("Ottoline Brandt")
    page.get_by_role("button", name="Sign", exact=True).click()
    pdf = kept_paper(page)
    # The very strokes stand on it.
    (stroke,) = json.loads(drawn)
    lines = " ".join(f"{x} {y} {'l' if place else 'm'}" for place, (x, y, _ms) in enumerate(stroke))
    assert lines.encode() in b" ".join(b"".join(sheet.get_contents().get_data() for sheet in pages(pdf)).split())
    stands_and_falls(page, clinician, pdf, case=BY_HAND)


def test_signing_by_keyboard_alone_on_a_phone(
    consent_world: World, clinician: Callable[..., Page], watched_browser: Watched
) -> None:
    """The typed name needs no pointer: the choice and the name are reached with the tabulator."""
    desk = clinician(f"/cases/{BY_KEYBOARD}/consent/")
    desk.locator("summary", has_text="Talk again").click()
    tick(desk, "id_can_decide_0")
    tick(desk, "id_interpreter_0")
    desk.get_by_role("button", name="Record the talk").click()
    expect(desk.locator("main")).to_contain_text("The talk is recorded.")
    page = hand_over(watched_browser, consent_world, BY_KEYBOARD, device="phone")
    page.goto("/p/sign/")
    page.locator("input[name=photo_record][value=no]").focus()
    wanted = {"photo_record", "photo_teaching", "photo_publication", "photo_public", "declared", "typed"}
    for _ in range(24):
        name = page.evaluate("document.activeElement.name || document.activeElement.textContent")
        if name in wanted:
            page.keyboard.press("Space")
            wanted.remove(name)
        elif name == "name":
            page.keyboard.type("Marek Dvořák")
        elif name == "Sign":
            page.keyboard.press("Enter")
            break
        page.keyboard.press("Tab")
    assert wanted == set()
    pdf = kept_paper(page)
    words = " ".join(" ".join(sheet.extract_text() for sheet in pages(pdf)).split())
    assert "Marek Dvořák Signed by typing the name" in words
    stands_and_falls(page, clinician, pdf, case=BY_KEYBOARD)


def kept_paper(page: Page) -> bytes:
    """As the patient gets it on the phone."""
    expect(page.locator("h1")).to_have_text("Signed. Thank you.")
    look(page)
    return bytes(page.request.get("/p/consent-paper/").body())


def pages(pdf: bytes) -> Sequence[Any]:
    return PdfReader(BytesIO(pdf)).pages


def stands_and_falls(page: Page, clinician: Callable[..., Page], pdf: bytes, *, case: int) -> None:
    """Found genuine by anybody, countersigned; withdrawn, that is seen at once everywhere."""
    checked_by_anybody(page, pdf)
    clinician(f"/cases/{case}/consent/").get_by_role("button", name="Countersign").click()
    open_pages = [clinician(f"/diary/{seed.day_of(case)}/"), clinician(f"/cases/{case}/")]
    for screen in open_pages:
        expect(screen.locator("#content")).not_to_contain_text("Consent was withdrawn")
    page.goto("/p/sign/withdraw/")
    look(page)
    page.get_by_role("button", name="I withdraw my consent").press("Enter")
    expect(page.locator("h1")).to_have_text("Your consent is withdrawn")
    # Nobody touched the open pages; the next one that is asked for says it as well.
    for screen in open_pages:
        expect(screen.locator("#content")).to_contain_text("Consent was withdrawn", timeout=WITHIN_MS)
    expect(clinician(f"/cases/{case}/").locator("main")).to_contain_text("Consent was withdrawn")
    look(page)


def checked_by_anybody(page: Page, pdf: bytes) -> None:
    """The public page, from the very file and from one with a single bit changed; nothing clinical, and no name."""
    changed = bytearray(pdf)
    changed[len(pdf) // 2] ^= 1
    for file, verdict in ((pdf, "Genuine: exactly as it was issued"), (bytes(changed), "Altered: this is not what")):
        page.goto("/verify/")
        page.locator("input[type=file]").set_input_files(
            {"name": "consent.pdf", "mimeType": "application/pdf", "buffer": file}
        )
        page.get_by_role("button", name="Check the sheet").click()
        expect(page.locator("h1")).to_contain_text(verdict)
        for private in ("Ottoline", "Marek", "peroxide", "whitening"):
            expect(page.locator("main")).not_to_contain_text(private)
        look(page)


def test_what_is_signed_on_paper(consent_world: World, watched_browser: Watched) -> None:
    """The scan beside what is written down from it; somebody else has to compare it."""
    page = sign_in(watched_browser, consent_world, "ari@example.org", device="phone")
    page.goto(f"/cases/{ON_PAPER}/consent/paper/")
    expect(page.locator("figure img")).to_be_visible()
    assert page.evaluate("document.querySelector('figure img').decode().then(() => true)")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator(".errors")).to_be_visible()
    look(page)
    for control in ("id_paper_0", "id_form_0", "id_is_whole", "id_interpreter_signed_1"):
        tick(page, control)
    for use in ("record", "teaching", "publication", "public"):
        tick(page, f"id_photo_{use}_1")
    page.get_by_label("Wording of a blank form").fill(shipped()["en"][-1].mark)
    page.get_by_label("Name beside the signature").fill("Chiamaka Obi")
    today = page.evaluate("new Date()")
    page.get_by_label("Day beside the signature").fill(f"{today.day} {today.month} {today.year}")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("main")).to_contain_text("Somebody else has to compare it with the scan")
    look(page)
    page.goto(f"/cases/{ON_PAPER}/papers/")
    page.locator("summary", has_text="Filed by mistake").click()
    look(page)


def test_the_interpreter_signs(consent_world: World, watched_browser: Watched) -> None:
    page = sign_in(watched_browser, consent_world, "ari@example.org", device="phone")
    page.goto(f"/cases/{ON_PAPER}/consent/")
    page.get_by_role("link", name="Let the interpreter sign").click()
    look(page)
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.locator(".errors")).to_be_visible()
    write_with_a_finger(page, page.locator("svg.signature"))
    tick(page, "id_declared")
    page.get_by_label("My full name").fill("Ngozi Eze")
    page.get_by_role("button", name="Sign", exact=True).click()
    expect(page.locator("main")).to_contain_text("The interpreter has signed.")
    look(page)
