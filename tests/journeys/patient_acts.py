"""What the patient does on a phone, through private links: no account, no grade, no code but for signing."""

import re

from tests.journeys.person import Person
from tests.journeys.story import NAME, Story, invited, starts_at, text_of

GRADES = ("Must not", "Not yet", "With care", "PER-01")
# Somebody well, whose gums bled when they brushed.
USUAL = ("answer_none", "answer_no", "answer_under_6_months", "answer_0")
SAID = {"gums_bleed": "answer_yes"}


def before_the_visit(story: Story) -> Person:
    """Step 3: the confirmation with its calendar part; the link on a phone; the questions, left and resumed."""
    mail = story.mail("Your appointment")
    event = invited(mail)
    assert (starts_at(event), event["SEQUENCE"]) == (story.consultation_at, 0)
    patient = story.phone(mail)
    patient.stands_on("Before your visit")
    patient.sees_nowhere("Read and sign your consent")
    patient.press("Answer the health questions")
    answer_until(patient, most=3)
    # Put aside, and gone on with later from the page of the visit.
    patient.page.goto("/p/before/")
    patient.press("Answer the health questions")
    answer_until(patient, most=60)
    patient.stands_on("Your answers")
    patient.press("Hand in my answers")
    patient.stands_on("Thank you")
    patient.sees_nowhere(*GRADES)
    reads_ahead(patient)
    changes_the_choices(patient)
    return patient


def answer_until(patient: Person, *, most: int) -> None:
    """Stops after `most` questions or at the end of them."""
    for number in range(most):
        if "/p/questions/done/" in patient.page.url:
            return
        if number == 0:
            patient.stands_on("?")
        answer_one(patient)


def answer_one(patient: Person) -> None:
    before = patient.page.url
    wanted = (SAID.get(before.rstrip("/").rpartition("/")[2], ""), *USUAL)
    patient.sees_nowhere(*GRADES)
    patient.mark(next(control for control in wanted if control and patient.page.locator(f"#{control}").count()))
    patient.press("Next")
    patient.page.wait_for_url(lambda url: url != before)


def reads_ahead(patient: Person) -> None:
    patient.page.goto("/p/before/")
    patient.press("Read what whitening is")
    patient.stands_on("What whitening is")
    patient.press("I have read this")
    patient.stands_on("Before your visit")
    patient.sees("Everything is ready")


def changes_the_choices(patient: Person) -> None:
    patient.press("Message preferences")
    patient.stands_on("Message preferences")
    box = patient.page.get_by_label("Tell me when my next check is due.")
    before = box.is_checked()
    patient.choose("Tell me when my next check is due.")
    patient.press("Save")
    patient.sees("Saved. We write to you as you have chosen.")
    patient.page.reload()
    assert box.is_checked() is not before


def signs_on_the_phone(story: Story, patient: Person) -> None:
    """A six-digit code to the known address first; then the choices about photographs, and the signature."""
    patient.page.goto("/p/before/")
    patient.press("Read and sign your consent")
    patient.press("Send me the code")
    code = re.search(r"\b\d{6}\b", text_of(story.mail("Your code")))
    assert code
    patient.fill("The code we sent you", code.group())
    patient.press("Go on")
    patient.stands_on("Your consent")
    patient.sees_nowhere(*GRADES)
    for use in ("record", "teaching", "publication", "public"):
        patient.mark(f"id_photo_{use}_{0 if use == 'record' else 1}")
    patient.mark("id_declared")
    patient.fill("My full name", NAME)
    draws_a_signature(patient)
    patient.press("Sign")
    patient.stands_on("Signed")


def draws_a_signature(patient: Person) -> None:
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


def says_all_is_well(story: Story, *, nth: int) -> Person:
    """The good answer of the two-day check: from the link to thanks in at most six, without any code."""
    patient = story.phone(story.mail("How are you?", nth=nth))
    patient.press("All is well")
    patient.stands_on("Thank you for telling us")
    assert patient.done <= 6
    return patient


def worries(story: Story, patient: Person) -> None:
    """Something new, and worse: the page says what to do, whom to call, and when somebody reads it."""
    patient.press("Tell us something new")
    patient.stands_on("Tell us something new")
    for control in ("id_swelling_1", "id_eye_1", "id_sensitivity_8", "id_worst_9", "id_falling_1"):
        patient.mark(control)
    for control in (
        "id_woke_at_night_0",
        "id_one_tooth_1",
        "id_gums_0",
        "id_painkillers_0",
        "id_smoke_2",
        "id_satisfaction_3",
    ):
        patient.mark(control)
    patient.press("Send my answers")
    # Us, or outside opening hours the number for that: one of them, and nothing about waiting for a call.
    patient.stands_on("now")
    patient.sees("Pain of seven or more should not wait.", "Do not wait for that.", "+44 20 7946 0100", "999")
    patient.sees_nowhere("We call you")
    patient.sees_nowhere(*GRADES, "F48")


def picks_a_time(story: Story) -> None:
    patient = story.phone(story.mail("Pick a time"))
    patient.stands_on("Pick a time")
    story.review_at = patient.takes_the_first_time()
    patient.stands_on("is booked")
