"""What the front desk does: the call with everything it leads to, the confirmed time, the day of the session."""

from dataclasses import replace
from datetime import datetime, time, timedelta

from tests.journeys.story import BIRTH_TYPED, EMAIL, LONDON, NAME, WISH, Story, invited, starts_at


def next_monday(at: time) -> datetime:
    today = datetime.now(tz=LONDON).date()
    return datetime.combine(today + timedelta(days=7 - today.weekday()), at, tzinfo=LONDON)


def somebody_under_18(story: Story) -> None:
    """Said as the birth date is typed, before anything is sent."""
    desk = replace(story.desk, done=0)
    desk.opens("/patients/new/")
    desk.stands_on("Register a new patient")
    born = next_monday(time(9)).date().replace(month=1, day=2)
    desk.fill("Date of birth", f"2 1 {born.year - 15}")
    desk.sees(f"Whitening not before 2 Jan {born.year + 3}, the 18th birthday.")


def the_call(story: Story) -> None:
    """Steps 1 and 2: part of the name finds nobody; register, open a case, book the consultation, pencil a session."""
    desk = story.desk
    desk.opens("/")
    desk.stands_on("people")
    desk.fill("Find a patient", "O’Hara")
    desk.press("Register a new patient")
    desk.stands_on("Register a new patient")
    desk.fill("Full name", NAME)
    desk.fill("Date of birth", BIRTH_TYPED)
    desk.fill("E-mail", EMAIL)
    desk.press("Register")
    desk.stands_on(NAME)
    desk.press("Open a whitening case")
    desk.stands_on("Open a whitening case")
    desk.fill("In their words", WISH)
    desk.press("Open the case")
    desk.stands_on("consultation")
    story.consultation_at = desk.takes_the_first_time()
    desk.stands_on("whitening session")
    story.session_at = desk.takes_the_first_time()
    desk.stands_on("enquiry")
    desk.sees("pencilled until", WISH)
    story.case_url = desk.page.url
    assert story.consultation_at < story.session_at


def the_same_person_again(story: Story) -> None:
    """Another spelling of the same person: shown before, and registered only when the desk says it is somebody else."""
    desk = replace(story.desk, done=0)
    desk.opens("/patients/new/")
    desk.fill("Full name", "Zelie OHara Nunez")
    desk.fill("Date of birth", BIRTH_TYPED)
    desk.sees("This may be somebody who is in the register already:", "same name and date of birth")
    desk.press("Register")
    desk.stands_on("Register a new patient")
    desk.sees("This may be somebody who is in the register already:")
    desk.opens("/patients/?q=Zelie")
    desk.stands_on("1 patient found")


def what_is_missing(story: Story, *words: str) -> None:
    """The gates as the desk sees them on Today, in the diary and on the case page: what is missing, never why."""
    desk = story.desk
    desk.opens("/")
    desk.stands_on("1 not ready yet")
    desk.sees(NAME, "Missing", "Answers missing")
    desk.opens(f"/diary/{story.session_at.astimezone(LONDON):%Y-%m-%d}/")
    desk.stands_on("1 visit")
    desk.sees(NAME, "Missing", *words)
    desk.opens(story.case_url)
    desk.sees("Clear to start on", "Missing", *words)
    desk.sees_nowhere("Inflamed", "bleed")


def confirms_the_time(story: Story) -> None:
    """The pencilled time becomes a booked one; its mail says so with the calendar part."""
    desk = story.desk
    desk.opens(story.case_url)
    desk.press("Confirm the pencilled time")
    desk.sees("The time is confirmed")
    event = invited(story.mail("Your appointment", nth=1))
    assert starts_at(event) == story.session_at


def receives(story: Story, *, called: str) -> None:
    desk = story.desk
    desk.opens("/")
    desk.stands_on("1 person")
    desk.sees(NAME, called)
    desk.press("Here now")
    desk.sees("here, waiting")


def moves_the_review(story: Story) -> None:
    """The same entry in the patient's calendar: UID stays, SEQUENCE rises."""
    desk = story.desk
    first = invited(story.mail("Your appointment", nth=2))
    assert (starts_at(first), first["SEQUENCE"]) == (story.review_at, 0)
    desk.opens(story.case_url)
    desk.press("Month review")
    desk.press("Move to another time")
    desk.stands_on("Move:")
    # The patient asked for a later day of the same week.
    desk.fill("From", (story.review_at.astimezone(LONDON) + timedelta(days=2)).date().isoformat())
    desk.press("Look again")
    desk.page.wait_for_url("**from_on=**")
    story.review_at = desk.takes_the_first_time()
    moved = invited(story.mail("Your new time"))
    assert (moved["UID"], moved["SEQUENCE"], starts_at(moved)) == (first["UID"], 1, story.review_at)
