"""What the acts of one case share: the world, its people, its clock, and the mails that arrive."""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from email.message import EmailMessage
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import icalendar

from tests.browser import Watched
from tests.journeys.clockwork import Clockwork
from tests.journeys.person import Person
from tests.world import World

LONDON = ZoneInfo("Europe/London")
NAME, BORN, EMAIL = "Zélie O’Hara-Núñez", date(1988, 12, 3), "zelie@example.org"
WISH = "A bit lighter for my sister's wedding, not film-star white."
BIRTH_TYPED = "3 12 1988"
ON_CALL = "cleo@example.org"
MAIL_SECONDS = 120
# Common words of the treatment that must never stand in a subject or in a colleague's mailbox.
CLINICAL = re.compile(r"whiten|teeth|tooth|gel|gum|bleach|pain|swell|sensitiv", re.IGNORECASE)
NEVER = datetime.min.replace(tzinfo=UTC)


@dataclass
class Story:
    world: World
    browser: Watched
    desk: Person
    clinician: Person
    clockwork: Clockwork
    case_url: str = ""
    consultation_at: datetime = NEVER
    session_at: datetime = NEVER
    closed_at: datetime = NEVER
    review_at: datetime = NEVER

    def clock(self, at: datetime, *, swept: bool = False) -> None:
        """The world's clock shows this moment; `swept`: its own beat and worker have looked at what is due."""
        self.clockwork.show(at, swept=swept)

    def mails(self, subject: str, *, to: str = EMAIL) -> list[EmailMessage]:
        return [mail for mail in self.world.mailbox.to(to) if subject in str(mail["Subject"])]

    def mail(self, subject: str, *, to: str = EMAIL, nth: int = 0) -> EmailMessage:
        """The first with that subject, or the nth after it, once it is there; nothing clinical stands outside."""

        def wanted(mail: EmailMessage) -> bool:
            found = self.mails(subject, to=to)
            return len(found) > nth and mail is found[nth]

        mail = self.world.mailbox.wait_for(wanted, seconds=MAIL_SECONDS)
        assert not CLINICAL.search(str(mail["Subject"]))
        return mail

    def page_of_case(self, path: str = "") -> str:
        return self.case_url.rstrip("/") + "/" + path

    def phone(self, mail: EmailMessage) -> Person:
        """The patient's phone, in by the link of this mail. Its page changes nothing until the button is pressed."""
        page = self.browser.open(self.world.address, device="phone")
        patient = Person(page, looks_at_access=self.desk.looks_at_access)
        patient.page.goto(self.link_in(mail))
        patient.press("Open my page")
        patient.page.wait_for_url("**/p/who/**")
        patient.fill("date of birth", BIRTH_TYPED)
        patient.press("Go on")
        patient.page.wait_for_url(lambda url: "/p/who/" not in url)
        return patient

    def link_in(self, mail: EmailMessage) -> str:
        found = re.search(re.escape(self.world.address) + r"/p/l/\S+", text_of(mail))
        assert found, text_of(mail)
        return found.group()


def text_of(mail: EmailMessage) -> str:
    body = mail.get_body(preferencelist=("plain",))
    assert body is not None
    return str(body.get_content())


def invited(mail: EmailMessage) -> Any:
    """The event of the mail's calendar part: read by a library of its own, without an error in it (RFC 5545, 5546)."""
    (part,) = [part for part in mail.walk() if part.get_content_type() == "text/calendar"]
    content = part.get_payload(decode=True)
    assert isinstance(content, bytes)
    calendar = icalendar.Calendar.from_ical(content)
    (event,), (zone,) = calendar.walk("VEVENT"), calendar.walk("VTIMEZONE")
    assert [calendar.errors, event.errors, zone.errors] == [[], [], []]
    assert calendar["METHOD"] == part.get_param("method") == "REQUEST"
    assert event["DTSTART"].params["TZID"] == zone["TZID"] == LONDON.key
    assert UUID(str(event["UID"])).version == 4
    assert not CLINICAL.search(str(event["SUMMARY"]))
    return event


def starts_at(event: Any) -> datetime:
    at: datetime = event["DTSTART"].dt
    return at.astimezone(UTC)
