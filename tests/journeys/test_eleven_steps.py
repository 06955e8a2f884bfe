"""One whole case, from the phone call to the month review, as four people live it; on both kinds of installation."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from email.message import EmailMessage
from io import BytesIO
from zoneinfo import ZoneInfo

import icalendar
import pytest
from pypdf import PdfReader

from tests.browser import Watched
from tests.journeys.person import Person, sign_in
from tests.world import World

pytestmark = [pytest.mark.world, pytest.mark.timeout(900)]
LONDON = ZoneInfo("Europe/London")
NAME, BORN, EMAIL = "Zélie O’Hara-Núñez", date(1988, 12, 3), "zelie@example.org"
WISH = "A bit lighter for my sister's wedding, not film-star white."
# Common words of the treatment that must never leave in a subject or reach a colleague's mailbox.
CLINICAL = re.compile(r"whiten|teeth|tooth|gel|gum|bleach|pain|swell", re.IGNORECASE)


@dataclass
class Story:
    world: World
    browser: Watched
    desk: Person
    clinician: Person
    case_url: str = ""
    consultation_at: datetime = datetime.min.replace(tzinfo=UTC)
    session_at: datetime = datetime.min.replace(tzinfo=UTC)

    def clock(self, at: datetime) -> None:
        """The world's clock shows this moment; its own worker and beat find what is due."""
        self.world.python("-m", "tests.journeys.clockwork", at.isoformat())
        # Every process reads the clock's row at most once a second.
        self.desk.page.wait_for_timeout(1500)

    def mail(self, wanted: Callable[[EmailMessage], bool]) -> EmailMessage:
        return self.world.mailbox.wait_for(wanted, seconds=60)


@pytest.fixture
def story(furnished_world: World, watched_browser: Watched) -> Story:
    address = furnished_world.address
    desk = sign_in(watched_browser.open(address), "dana@example.org")
    clinician = sign_in(watched_browser.open(address, device="tablet"), "cleo@example.org", factor=True)
    return Story(furnished_world, watched_browser, desk, clinician)


def test_a_case_from_the_call_to_the_review(story: Story) -> None:
    story.clock(datetime.combine(next_monday(), time(9, 5), tzinfo=LONDON))
    the_call(story)
    assert story.desk.done <= 20
    patient = before_the_visit(story)
    at_the_consultation(story, patient)
    taps = the_session(story)
    assert taps <= 40
    after_two_days(story)
    the_review(story)
    story.world.manage("trail_seal")
    story.world.manage("trail_verify")  # raises with what it printed unless the whole chain is whole


def next_monday() -> date:
    today = datetime.now(tz=LONDON).date()
    return today + timedelta(days=7 - today.weekday())


def the_call(story: Story) -> None:
    """Steps 1 and 2: part of a name finds nobody; register, open a case, book, pencil."""
    desk = story.desk
    desk.page.goto("/")
    desk.stands_on("people")
    desk.press("New patient")
    desk.stands_on("Register a new patient")
    desk.fill("Full name", NAME)
    desk.fill("Date of birth", BORN.strftime("%d %m %Y"))
    desk.fill("E-mail", EMAIL)
    desk.press("Register")
    desk.press("Open a whitening case")
    desk.fill("In their words", WISH)
    desk.press("Open the case")
    desk.stands_on("consultation")
    story.consultation_at = first_opening(desk)
    desk.stands_on("whitening session")
    story.session_at = first_opening(desk)
    desk.sees("Pencilled")
    desk.stands_on("enquiry")
    story.case_url = desk.page.url
    assert story.consultation_at < story.session_at


def first_opening(person: Person) -> datetime:
    button = person.page.locator("button[name=start_at]").first
    start_at = datetime.fromisoformat(button.get_attribute("value") or "")
    button.click()
    person.done += 1
    person.page.wait_for_load_state()
    return start_at.astimezone(UTC)


def before_the_visit(story: Story) -> Person:
    """Step 3: the confirmation with its calendar part; the link on a phone; the questions, left and resumed."""
    mail = story.mail(lambda mail: EMAIL in str(mail["To"]) and "appointment" in str(mail["Subject"]).lower())
    assert not CLINICAL.search(str(mail["Subject"]))
    event = calendar_event(mail)
    assert event["DTSTART"].dt.astimezone(UTC) == story.consultation_at
    assert event["DTSTART"].dt.utcoffset() is not None
    patient = Person(story.browser.open(story.world.address, device="phone"))
    open_link(patient, link_in(mail, story))
    patient.stands_on("Before your visit")
    patient.press("Answer the health questions")
    answer_until(patient, most=3)
    # Put aside, and gone on with later from the page of the visit.
    patient.page.goto("/p/before/")
    patient.press("Answer the health questions")
    answer_until(patient, most=60)
    patient.stands_on("Your answers")
    patient.press("Hand in my answers")
    patient.stands_on("Thank you")
    for grade in ("Must not", "Not yet", "With care"):
        assert grade not in patient.page.content()
    patient.page.goto("/p/before/")
    patient.press("Read what whitening is")
    patient.press("I have read this")
    patient.sees("Everything is ready")
    return patient


def calendar_event(mail: EmailMessage) -> icalendar.Event:
    parts = [part for part in mail.walk() if part.get_content_type() == "text/calendar"]
    assert len(parts) == 1
    calendar = icalendar.Calendar.from_ical(parts[0].get_payload(decode=True))
    assert calendar["METHOD"] == parts[0].get_param("method") == "REQUEST"
    assert len(calendar.walk("VTIMEZONE")) == 1
    return calendar.walk("VEVENT")[0]


def text_of(mail: EmailMessage) -> str:
    body = mail.get_body(preferencelist=("plain",))
    assert body is not None
    return str(body.get_content())


def link_in(mail: EmailMessage, story: Story) -> str:
    found = re.search(re.escape(story.world.address) + r"/p/l/\S+", text_of(mail))
    assert found, text_of(mail)
    return found.group()


def open_link(patient: Person, url: str) -> None:
    """The page behind the link changes nothing until its button is pressed; the birth date shows it is the right one."""
    patient.page.goto(url)
    patient.press("Open my page")
    if patient.page.url.endswith("/p/who/") or "/p/who/" in patient.page.url:
        patient.fill("Date of birth", BORN.strftime("%d %m %Y"))
        patient.press("Go on")


def answer_until(patient: Person, *, most: int) -> None:
    """Answers as somebody with nothing to report would; stops after `most` questions or at the end of them."""
    page = patient.page
    for _question in range(most):
        if "/p/questions/done/" in page.url:
            return
        answer_one(patient)


def answer_one(patient: Person) -> None:
    before = patient.page.url
    usual = ("answer_none", "answer_no", "answer_under_6_months", "answer_0")
    patient.mark(next(control for control in usual if patient.page.locator(f"#{control}").count()))
    patient.press("Next")
    patient.page.wait_for_url(lambda url: url != before)


def at_the_consultation(story: Story, patient: Person) -> None:
    """Step 4: findings, examination, plan, talk; the patient signs on the phone; countersigned; time confirmed."""
    story.clock(story.consultation_at)
    clinician = story.clinician
    clinician.page.goto(case_page(story, "assessment/"))
    clinician.stands_on("Answers and findings")
    clinician.press("Examine")
    clinician.stands_on("Examine")
    clinician.fill("Last cleaning", (story.consultation_at - timedelta(days=30)).strftime("%d %m %Y"))
    clinician.press("Record the examination")
    clinician.press("Plan")
    clinician.stands_on("Plan for")
    clinician.press("Record the plan")
    clinician.page.goto(case_page(story, "consent/"))
    clinician.stands_on("Consent of")
    clinician.mark("id_can_decide_0")
    clinician.press("Record the talk")
    clinician.sees("The talk is recorded")
    sign_on_the_phone(story, patient)
    clinician.page.reload()
    clinician.press("Countersign")
    clinician.sees("Countersigned")
    story.desk.page.goto(story.case_url)
    story.desk.press("Confirm the pencilled time")
    story.desk.sees("The time is confirmed")


def case_page(story: Story, path: str) -> str:
    return story.case_url.rstrip("/") + "/" + path


def sign_on_the_phone(story: Story, patient: Person) -> None:
    """A six-digit code to the known address first; then the choices about photographs, and the signature."""
    page = patient.page
    page.goto("/p/before/")
    patient.press("Read and sign your consent")
    page.get_by_role("button", name="code").first.click()
    mail = story.mail(lambda mail: EMAIL in str(mail["To"]) and re.search(r"\b\d{6}\b", text_of(mail)) is not None)
    code = re.search(r"\b\d{6}\b", text_of(mail))
    assert code
    page.locator("input[name=code]").fill(code.group())
    patient.press("Go on")
    patient.stands_on("Your consent")
    for use in ("record", "teaching", "publication", "public"):
        patient.mark(f"id_photo_{use}_{0 if use == 'record' else 1}")
    patient.mark("id_declared")
    patient.fill("My full name", NAME)
    draw_a_signature(patient)
    patient.press("Sign")
    patient.stands_on("Signed")


def draw_a_signature(patient: Person) -> None:
    box = patient.page.locator("svg.signature")
    box.scroll_into_view_if_needed()
    frame = box.bounding_box()
    assert frame
    mouse = patient.page.mouse
    mouse.move(frame["x"] + 30, frame["y"] + 40)
    mouse.down()
    for step in range(1, 9):
        mouse.move(frame["x"] + 30 + 20 * step, frame["y"] + 40 + (25 if step % 2 else -20))
    mouse.up()


def the_session(story: Story) -> int:
    """Steps 5 to 7: the gates on Today and in the diary, the day's questions, four cycles, closed. Returns the taps."""
    story.clock(story.session_at - timedelta(minutes=5))
    desk, clinician = story.desk, story.clinician
    desk.page.goto("/")
    desk.stands_on("people")
    desk.sees(NAME)
    desk.press("Here now")
    desk.page.goto("/diary/")
    desk.stands_on("visit")
    clinician.page.goto(story.case_url)
    clinician.press("Name and birth date match")
    clinician.page.goto(case_page(story, "reask/"))
    clinician.stands_on("Ask again today")
    clinician.press("All as before")
    clinician.sees("All as before")
    clinician.press("Start the session")
    clinician.page.wait_for_url("**/chair/**")
    return tap_through(story, clinician)


def tap_through(story: Story, clinician: Person) -> int:
    """Always the usual answer; while a clock runs, time passes until it offers something."""
    page, now = clinician.page, story.session_at
    for tap in range(60):
        if page.get_by_role("link", name="To the case").count():
            return tap
        offer = page.locator(".chair-next button, button.chair-next").or_(page.locator("[data-step-choices] button"))
        while not offer.count():
            now += timedelta(minutes=5)
            story.clock(now)
            page.reload()
        with page.expect_response(lambda answer: "/chair/" in answer.url and answer.request.method == "POST"):
            offer.first.click()
        page.wait_for_timeout(700)  # the screen ignores a second touch in the same place for 600 ms
    raise AssertionError("the session does not end")


def after_two_days(story: Story) -> None:
    """Steps 7 to 9: the sheet as a tagged PDF; the check on the second day; good and worrying answers."""
    the_sheet(story)
    story.clock(story.session_at + timedelta(days=2, hours=4))
    mail = story.mail(lambda mail: EMAIL in str(mail["To"]) and str(mail["Subject"]).startswith("How are you"))
    patient = Person(story.browser.open(story.world.address, device="phone"))
    open_link(patient, link_in(mail, story))
    patient.press("All is well")
    patient.sees("Thank you")
    assert patient.done <= 6
    patient.press("Tell us something new")
    worry(patient)
    patient.sees("should not wait")
    patient.sees("answers by")
    story.desk.page.goto("/")
    story.desk.sees("Answer these first")
    alert = story.mail(lambda mail: "cleo@example.org" in str(mail["To"]) and "wait" in str(mail["Subject"]))
    assert not CLINICAL.search(str(alert["Subject"]) + text_of(alert))
    assert NAME not in text_of(alert)


def worry(patient: Person) -> None:
    for control in ("id_swelling_1", "id_eye_1", "id_sensitivity_8", "id_falling_1", "id_woke_at_night_0"):
        patient.mark(control)
    for control in ("id_one_tooth_1", "id_gums_0", "id_painkillers_0", "id_satisfaction_3"):
        patient.mark(control)
    patient.press("Send my answers")


def the_sheet(story: Story) -> None:
    """What the clinician's page hands out, read back as text."""
    page = story.clinician.page
    page.goto(story.case_url)
    link = page.get_by_role("link", name="After your visit").first
    href = link.get_attribute("href") or ""
    answer = page.request.get(href.replace("?show", ""))
    assert answer.status == 200
    reader = PdfReader(BytesIO(answer.body()))
    text = " ".join(" ".join(sheet.extract_text() for sheet in reader.pages).split())
    for words in ("48 hours", "Call at once", "does not replace", "Fernbrook", "999"):
        assert words in text, text
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]


def the_review(story: Story) -> None:
    """Steps 10 and 11: the patient picks a time; shade, sensitivity, satisfaction; the case closes; its page tells all."""
    story.clock(story.session_at + timedelta(days=24))
    mail = story.mail(lambda mail: EMAIL in str(mail["To"]) and "Pick a time" in str(mail["Subject"]))
    patient = Person(story.browser.open(story.world.address, device="phone"))
    open_link(patient, link_in(mail, story))
    patient.stands_on("Pick a time")
    review_at = first_opening(patient)
    patient.sees("is booked")
    assert timedelta(days=27) <= review_at - story.session_at <= timedelta(days=43)
    story.clock(review_at)
    clinician = story.clinician
    clinician.page.goto(case_page(story, "review/"))
    clinician.stands_on("Month review")
    for control in ("id_tab_1", "id_sensitivity_0", "id_satisfaction_3", "id_gums_quiet_0", "id_decision_0"):
        clinician.mark(control)
    clinician.press("Record the review")
    clinician.stands_on("closed")
    for words in ("recorded the month review", "closed a session", "signed the consent", "opened a whitening case"):
        clinician.sees(words)
    assert clinician.page.locator("svg.ladder-drawing circle").count() == 3
