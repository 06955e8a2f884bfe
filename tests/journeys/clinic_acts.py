"""What the clinician does: consultation, session, the worrying answer, the review."""

from datetime import timedelta
from io import BytesIO
from itertools import count

from playwright.sync_api import Locator, expect
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, PdfObject

from tests.journeys.patient_acts import signs_on_the_phone
from tests.journeys.person import Person
from tests.journeys.story import CLINICAL, LONDON, NAME, ON_CALL, Story, text_of

CYCLES = 4
# What is chosen where the screen offers several; everything else is its usual answer.
SHADES = {"Starting shade": "A3", "Final shade": "A1"}
SHEET_WORDS = ("48 hours", "Call at once", "does not replace", "Fernbrook Dental Rooms", "999", "111", NAME)


def examines_and_plans(story: Story) -> None:
    clinician = story.clinician
    clinician.opens(story.page_of_case("assessment/"))
    clinician.stands_on("Answers and findings")
    clinician.sees("Inflamed gums", "Not yet")
    clinician.press("Examine")
    clinician.stands_on("Examine")
    clinician.mark("id_everything")
    cleaned_on = (story.consultation_at - timedelta(days=30)).date()
    clinician.mark("id_periodontitis_0")
    clinician.fill("Last cleaning", cleaned_on.isoformat())
    clinician.press("Record the examination")
    clinician.sees("The examination is recorded")
    asks_in_private(story)
    clinician.press("Plan")
    clinician.stands_on("Plan for")
    clinician.page.locator("#id_product").select_option(index=1)
    for arch in ("upper arch", "lower arch"):
        clinician.choose(arch)
    clinician.mark("id_light_0")
    clinician.mark("id_isolation_0")
    clinician.press("Record the plan")
    clinician.stands_on("examined")


def asks_in_private(story: Story) -> None:
    """What nobody is asked at home."""
    clinician = story.clinician
    clinician.sees("to be asked face to face")
    clinician.press("Ask what is still open")
    clinician.stands_on("Ask what is still open")
    for control in ("acid_in_mouth_1", "hoped_for_0", "look_in_the_way_1", "look_on_mind_1"):
        clinician.mark(f"id_{control}")
    clinician.press("Record the answers")
    clinician.sees("The answers are recorded")
    clinician.opens(story.page_of_case("assessment/"))


def agrees(story: Story, patient: Person) -> None:
    """The talk, the patient's signature on the phone, the countersignature."""
    clinician = story.clinician
    clinician.opens(story.case_url)
    clinician.press("Talk, sign, countersign")
    clinician.stands_on("Consent of")
    clinician.mark("id_can_decide_0")
    clinician.mark("id_interpreter_0")
    clinician.press("Record the talk")
    clinician.sees("The talk is recorded")
    signs_on_the_phone(story, patient)
    clinician.page.reload()
    clinician.press("Countersign")
    clinician.sees("Countersigned")
    clinician.stands_on("agreed")


def comes_too_early(story: Story) -> None:
    """With a gate still shut the start is not offered, and the page says which is shut."""
    clinician = story.clinician
    clinician.opens(story.case_url)
    clinician.sees("Clear to start today?", "Ask for name and date of birth on the day")
    clinician.sees("Go through the list with the patient on the day")
    assert clinician.page.get_by_role("button", name="Start the session").count() == 0


def treats(story: Story) -> int:
    """Steps 5 and 6, from opening the session to closing it. Returns the taps; none of them is typing."""
    clinician = story.clinician
    clinician.opens(story.case_url)
    clinician.press("Name and birth date match")
    clinician.press("Ask again today")
    clinician.stands_on("Ask again today")
    reads_out_the_list(clinician)
    clinician.press("All as before")
    clinician.sees("All as before, asked by")
    clinician.press("Start the session")
    clinician.page.wait_for_url("**/chair/**")
    clinician.done = 1
    taps_through(story, clinician)
    return clinician.done


def reads_out_the_list(clinician: Person) -> None:
    """Each item in view as long as it takes to say it; nothing is tapped for that."""
    button = clinician.page.get_by_role("button", name="All as before")
    expect(button).to_be_disabled()
    for item in clinician.page.locator("[data-shown-item]").all():
        item.scroll_into_view_if_needed()
        expect(item.locator("[data-shown]")).to_be_checked()


def taps_through(story: Story, clinician: Person) -> None:
    """Always the usual answer; while a clock runs, time passes until it offers something."""
    page = clinician.page
    story.closed_at = story.session_at
    looked_at = set[str]()
    while not page.get_by_role("link", name="To the case").count():
        if (title := page.locator("[data-step-title]").inner_text()) not in looked_at:
            looked_at.add(title)
            clinician.looks()
        wait_for_an_offer(story, clinician)
        version = page.locator("[data-chair]").get_attribute("data-version") or ""
        with page.expect_response(lambda answer: "/event/" in answer.url) as answer:
            offered(clinician).click()
        assert answer.value.ok
        # An answer has come before it is shown; until then a second touch means the first.
        expect(page.locator("[data-chair]")).not_to_have_attribute("data-version", version)
        clinician.done += 1
        page.wait_for_timeout(700)  # the screen ignores a second touch in the same place for 600 ms
        assert clinician.done < 2 * CYCLES * 10, "the session does not end"


def offered(clinician: Person) -> Locator:
    """The chosen shade where one is asked for, else the one big button, else the first choice of the step."""
    page = clinician.page
    title = page.locator("[data-step-title]").inner_text()
    for step, shade in SHADES.items():
        if title.startswith(step):
            return page.locator("[data-step-choices]").get_by_role("button", name=shade, exact=True)
    usual = page.locator(".chair-next")
    return usual.first if usual.count() else page.locator("[data-step-choices] button").first


def wait_for_an_offer(story: Story, clinician: Person) -> None:
    page = clinician.page
    for _minutes in count():
        if offered(clinician).count():
            return
        # Gel is on: the two that matter most are there, whatever the clock shows.
        assert page.get_by_role("button", name="Take the gel off now").is_visible()
        assert page.get_by_role("button", name="Undo").is_visible()
        story.closed_at += timedelta(minutes=5)
        story.clock(story.closed_at)
        page.reload()


def the_sheet(story: Story) -> None:
    """What the clinician's page hands out, read back as text; its structure is tagged for screen readers."""
    page = story.clinician.page
    story.clinician.opens(story.case_url)
    href = page.get_by_role("link", name="After your visit").first.get_attribute("href") or ""
    answer = page.request.get(href.replace("?show", ""))
    assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
    reader = PdfReader(BytesIO(answer.body()))
    text = " ".join(" ".join(sheet.extract_text() for sheet in reader.pages).split())
    assert [words for words in SHEET_WORDS if words not in text] == []
    root = reader.root_object
    assert str(root["/Lang"]) == "en"
    assert str(dictionary(root["/MarkInfo"])["/Marked"]) == "True"
    assert "/K" in dictionary(root["/StructTreeRoot"])


def dictionary(found: PdfObject) -> DictionaryObject:
    held = found.get_object()
    assert isinstance(held, DictionaryObject)
    return held


def answers_the_worry(story: Story) -> None:
    """The urgent card on Today, the word to the person on call without anything clinical, and the answer to it."""
    story.desk.opens("/")
    story.desk.sees("Answer these first", NAME, "answer by")
    story.desk.sees_nowhere("seven or more", "one tooth")
    alert = story.mail("waits for you", to=ON_CALL)
    assert not CLINICAL.search(text_of(alert))
    assert NAME not in alert.as_string()
    clinician = story.clinician
    clinician.opens("/followups/")
    clinician.stands_on("1 worrying answer")
    # By keys alone: to the first line, and its next step.
    clinician.page.keyboard.press("ArrowDown")
    clinician.page.keyboard.press("o")
    clinician.stands_on(NAME)
    clinician.sees("Pain of seven or more should not wait.")
    clinician.fill("What came of it", "Called; wears off with a desensitising paste.")
    clinician.press("Settle it")
    clinician.page.wait_for_load_state()


def reviews(story: Story) -> None:
    """Steps 10 and 11: shade, sensitivity, satisfaction, decision; the case closes and its page tells all of it."""
    clinician = story.clinician
    clinician.opens(story.page_of_case("review/"))
    clinician.stands_on("Month review")
    answers = (
        "id_tab_4",
        "id_sensitivity_0",
        "id_satisfaction_3",
        "id_gums_quiet_0",
        "id_decision_0",
        "id_next_check_3",
    )
    for control in answers:
        clinician.mark(control)
    clinician.press("Record the review")
    clinician.stands_on("closed")
    clinician.page.locator("summary", has_text="Earlier:").click()
    # A3 is the ninth of the sixteen tabs in order of value, A2 the fifth.
    clinician.sees("4 steps lighter", "Month review", "happy", "After your visit", "invitation to the review")
    for words in ("recorded the month review", "closed a session", "signed the consent", "opened a whitening case"):
        clinician.sees(words)
    assert clinician.page.locator("svg.ladder-drawing circle").count() == 3
    assert story.review_at.astimezone(LONDON).date() > story.session_at.date()
