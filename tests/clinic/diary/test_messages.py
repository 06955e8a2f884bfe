"""What the patient is told: planned with the visit, sent by the sweep, readable by any calendar program."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from email.message import Message
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core import mail
from icalendar import Calendar, Component, Event

from clinic.accounts.models import Site
from clinic.diary import actions, before, calendar
from clinic.diary.before import ToDo
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking, Resource, VisitType, WorkingPattern
from clinic.messages import kinds
from clinic.messages.models import DueMessage, PrivateLink, State
from clinic.messages.sweep import sweep
from clinic.messages.words import clinical_words
from clinic.patients.actions import note_move, take_move_back
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of
from tests.catalogues import Catalogues
from tests.clinic.diary.house import at, book, pencil, visit
from tests.clinic.diary.ics import NIGHTS, by_its_own_rules, start_of
from tests.clinic.diary.test_before import some

LONGEST_LINK = f"https://casebook.example.org/p/l/{'x' * 43}/"


def sent(*, now: datetime = NOW) -> list[Message]:
    mail.outbox.clear()
    sweep(now=now)
    return [one.message() for one in mail.outbox]


def part(message: Message, kind: str) -> Message:
    return next(one for one in message.walk() if one.get_content_type() == kind)


def text(message: Message) -> str:
    content = part(message, "text/plain").get_payload(decode=True)
    assert isinstance(content, bytes)
    return content.decode()


def only_event(content: bytes) -> Event:
    (event,) = Calendar.from_ical(content).walk("VEVENT")
    assert isinstance(event, Event)
    return event


def event_of(message: Message) -> tuple[Component, Event]:
    """Read back by a library of its own, strictly: an error in it would raise."""
    content = part(message, "text/calendar").get_payload(decode=True)
    assert isinstance(content, bytes)
    whole = Calendar.from_ical(content)
    assert whole.errors == []
    (event,) = whole.walk("VEVENT")
    assert event.errors == []
    assert isinstance(event, Event)
    return whole, event


def cancel(cast: Cast, booking: Booking) -> Booking:
    return actions.cancel(booking=booking, by="practice", reason="", actor=actor_of(cast.desk), now=NOW)


def move(cast: Cast, booking: Booking, start_at: datetime) -> Booking:
    return actions.move(booking=booking, start_at=start_at, actor=actor_of(cast.desk), now=NOW)


def test_the_confirmation(diary: Cast) -> None:
    booking = book(diary, at(9))
    (message,) = sent()
    assert (message["To"], message["Subject"]) == ("amara@example.org", "Your appointment at Fernbrook")
    assert "is on Wed 4 Mar 2026, 09:00" in text(message)
    assert PrivateLink.objects.get().subject_id == booking.pk
    assert "/p/l/" in text(message)
    assert part(message, "text/calendar").get_param("method") == "REQUEST"


@pytest.mark.parametrize(
    ("name", "said", "summary"),
    [
        ("Cleaning", "What it is: Cleaning.", "Cleaning at Fernbrook"),
        # It would stand on a locked screen.
        ("Whitening visit", "", "Appointment at Fernbrook"),
        ("", "", "Appointment at Fernbrook"),
    ],
)
def test_the_practices_plain_word_for_it(diary: Cast, name: str, said: str, summary: str) -> None:
    VisitType.objects.update(patient_name=name)
    booking = book(diary, at(9))
    for act in (lambda one: one, lambda one: move(diary, one, at(14)), lambda one: cancel(diary, one)):
        booking = act(booking)
        (message,) = sent()
        assert ("What it is" in text(message)) == bool(said)
        assert said in text(message)
        assert str(event_of(message)[1]["SUMMARY"]) == summary
        assert booking.visit_type.name not in text(message)
        assert not name or name not in str(message["Subject"])


TO_DO = ToDo(title="Health questions", url_name="preferences", minutes=4, done=False)
OFFER = ToDo(title="Take it back", url_name="preferences", minutes=0, done=True, is_offer=True)


@pytest.mark.parametrize(
    ("things", "says"),
    [([], "Everything about this visit"), ([OFFER], "Everything about this visit"), ([TO_DO], "something to read")],
)
def test_the_confirmation_asks_only_for_what_is_to_be_done(
    diary: Cast, monkeypatch: pytest.MonkeyPatch, things: list[ToDo], says: str
) -> None:
    monkeypatch.setattr(before, "_providers", [some(*things)])
    book(diary, at(9))
    assert says in text(sent()[0])


def test_the_invitation(diary: Cast) -> None:
    """RFC 5545 for its shape, RFC 5546 section 3.2.2 for what a REQUEST must hold."""
    booking = book(diary, at(9))
    whole, event = event_of(sent()[0])
    assert (whole["VERSION"], whole["METHOD"]) == ("2.0", "REQUEST")
    assert (event["UID"], event["SEQUENCE"], event["STATUS"]) == (str(booking.uid), 0, "CONFIRMED")
    assert event["DTSTART"].params["TZID"] == "Europe/London"
    assert (event.start, event.end) == (at(9), at(9, 35))
    assert event.DTSTAMP is not None
    assert event.DTSTAMP.utcoffset() == timedelta(0)
    assert str(event["ORGANIZER"]) == "MAILTO:fernbrook@example.org"
    assert str(event["ATTENDEE"]) == "MAILTO:amara@example.org"
    assert event["ATTENDEE"].params["PARTSTAT"] == "ACCEPTED"
    assert str(event["LOCATION"]) == "1 Fernbrook Street, Fernbrook"
    assert str(event["SUMMARY"]) == "Talk and check-up at Fernbrook"
    assert clinical_words(str(event["SUMMARY"]), "en") == []


def test_lines_end_as_the_standard_says_and_none_is_too_long(diary: Cast) -> None:
    """RFC 5545, 3.1: CRLF, and no line over 75 octets."""
    Site.objects.filter(pk=diary.fernbrook.pk).update(name="Zahnärzte am Łódź-Platz " * 4)
    booking = Booking.objects.select_related("site", "patient").get(pk=book(diary, at(9)).pk)
    content = calendar.invitation(booking, method="REQUEST", now=NOW)
    lines = content.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert all(b"\n" not in line for line in lines)
    event = only_event(content)
    assert str(event["SUMMARY"]).startswith("Talk and check-up at Zahnärzte am Łódź-Platz")


CHANGES: list[tuple[str, str, date, int]] = [
    # Zone, on which day, and how many hours UTC is behind the wall at nine.
    ("Europe/London", "winter", date(2026, 3, 4), 0),
    ("Europe/London", "autumn", date(2026, 10, 25), 0),
    ("Europe/London", "day before", date(2026, 10, 24), 1),
    ("Europe/Warsaw", "spring", date(2027, 3, 28), 2),
    ("Europe/Warsaw", "day before", date(2027, 3, 27), 1),
    ("Europe/Warsaw", "leap day", date(2028, 2, 29), 1),
]


@pytest.mark.parametrize(("zone", "_name", "day", "ahead"), CHANGES)
def test_the_rules_of_the_zone_travel_along(diary: Cast, zone: str, _name: str, day: date, ahead: int) -> None:
    """A calendar that knows no zone by name computes the same instant from the VTIMEZONE alone."""
    Site.objects.filter(pk=diary.fernbrook.pk).update(timezone=zone)
    diary.fernbrook.refresh_from_db()
    for one in Resource.objects.all():
        WorkingPattern.objects.create(
            resource=one, weekday=day.weekday(), from_time=time(8), to_time=time(18), from_on=day
        )
    start_at = datetime.combine(day, time(9), tzinfo=ZoneInfo(zone)).astimezone(UTC)
    diary.patient.site.refresh_from_db()
    booking = book(diary, start_at, tell=False)
    content = calendar.invitation(booking, method="REQUEST", now=NOW)
    # A name of its own for each case: the library remembers zones by their name.
    name = f"X-Practice/{zone}-{day}"
    foreign = content.replace(zone.encode(), name.encode())
    event = only_event(foreign)
    assert event["DTSTART"].params["TZID"] == name
    assert isinstance(event.start, datetime)
    assert event.start.replace(tzinfo=None) == datetime.combine(day, time(9))
    assert event.start.utcoffset() == timedelta(hours=ahead)
    assert event.start.astimezone(UTC) == start_at


@pytest.mark.parametrize(("zone", "night"), NIGHTS)
def test_an_invitation_in_the_night_of_a_clock_change(diary: Cast, zone: str, night: date) -> None:
    """Read to the letter by the rules inside: an onset that is written an hour late moves the hours after it."""
    diary.fernbrook.timezone = zone
    kind, midnight = visit(), instant(night, time(0), ZoneInfo(zone))
    for quarter in range(20):
        start_at = midnight + timedelta(minutes=15 * quarter)
        booking = Booking(site=diary.fernbrook, patient=diary.patient, visit_type=kind, status="booked", wall_on=night)
        booking.starts_at, booking.ends_at = start_at, start_at + timedelta(minutes=20)
        content = calendar.invitation(booking, method="REQUEST", now=NOW)
        assert by_its_own_rules(content, "DTSTART") == {str(booking.uid): booking.starts_at}
        assert by_its_own_rules(content, "DTEND") == {str(booking.uid): booking.ends_at}
        assert start_of(only_event(content)).astimezone(UTC) == booking.starts_at


def test_moved_and_cancelled_keep_the_uid_and_raise_the_sequence(diary: Cast) -> None:
    booking = book(diary, at(9))
    events = [event_of(sent()[0])]
    booking = move(diary, booking, at(14))
    events.append(event_of(sent()[0]))
    cancel(diary, booking)
    events.append(event_of(sent()[0]))
    assert {str(event["UID"]) for _, event in events} == {str(booking.uid)}
    assert [event.sequence for _, event in events] == [0, 1, 2]
    assert [str(whole["METHOD"]) for whole, _ in events] == ["REQUEST", "REQUEST", "CANCEL"]
    assert [str(event["STATUS"]) for _, event in events] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]
    assert [event.start for _, event in events] == [at(9), at(14), at(14)]


def test_a_visit_fitted_to_its_plan_has_a_higher_sequence(diary: Cast) -> None:
    booking = pencil(diary, at(9))
    fitted = actions.refit(booking=booking, cycles=3, light_kind="", actor=actor_of(diary.desk), now=NOW)
    actions.confirm(booking=fitted, actor=actor_of(diary.desk), now=NOW)
    _whole, event = event_of(sent()[0])
    assert (event.sequence, event.end) == (1, at(11))


def test_a_pencilled_time_is_only_mentioned(diary: Cast) -> None:
    pencil(diary, at(9))
    (message,) = sent()
    assert message["Subject"] == "A time held for you at Fernbrook"
    assert "until Wed 4 Mar 2026, 09:00" in text(message)
    assert not [one for one in message.walk() if one.get_content_type() == "text/calendar"]
    actions.lapse_due(now=NOW + timedelta(days=1))
    (message,) = sent(now=NOW + timedelta(days=1))
    assert message["Subject"] == "The time held for you at Fernbrook is free again"


def test_a_pencilled_time_that_is_let_go_takes_nothing_out_of_a_calendar(diary: Cast) -> None:
    let_go = cancel(diary, pencil(diary, at(9)))
    (message,) = sent()
    assert message["Subject"] == "Your appointment at Fernbrook is cancelled"
    assert not [one for one in message.walk() if one.get_content_type() == "text/calendar"]
    # Once it was confirmed there was an invitation, and it is taken back.
    stands = actions.take_back(booking=let_go, actor=actor_of(diary.desk), now=NOW)
    cancel(diary, actions.confirm(booking=stands, actor=actor_of(diary.desk), now=NOW))
    (message,) = sent()
    assert str(event_of(message)[0]["METHOD"]) == "CANCEL"


@pytest.mark.parametrize(
    ("change", "kinds"),
    [
        (lambda cast, booking: move(cast, booking, at(14)), ["visit_moved"]),
        (cancel, ["visit_cancelled"]),
        (lambda cast, booking: move(cast, move(cast, booking, at(14)), at(15)), ["visit_moved"]),
        (lambda cast, booking: cancel(cast, move(cast, booking, at(14))), ["visit_cancelled"]),
    ],
)
def test_what_is_out_of_date_is_never_sent(
    diary: Cast, change: Callable[[Cast, Booking], Any], kinds: list[str]
) -> None:
    change(diary, book(diary, at(9)))
    assert len(sent()) == 1
    assert list(DueMessage.objects.filter(state=State.HANDED_OVER).values_list("kind", flat=True)) == kinds
    # And nothing is left over for a later tick.
    assert sent(now=NOW + timedelta(hours=3)) == []


def test_nothing_is_said_of_a_visit_that_did_not_happen(diary: Cast) -> None:
    actions.no_show(booking=book(diary, at(9)), actor=actor_of(diary.desk), now=NOW)
    assert sent() == []


def test_booked_without_telling(diary: Cast) -> None:
    book(diary, at(9), tell=False)
    assert not DueMessage.objects.exists()


@pytest.mark.parametrize("language", ["en", "de", "es", "ar"])
def test_no_message_says_what_the_visit_is_for(diary: Cast, catalogues: Catalogues, language: str) -> None:
    catalogues.install("de", "es", "ar")
    Patient.objects.filter(pk=diary.patient.pk).update(language=language)
    booking = book(diary, at(9))
    messages = sent()
    booking = move(diary, booking, at(14))
    messages += sent()
    cancel(diary, booking)
    messages += sent()
    for message in messages:
        assert clinical_words(str(message["Subject"]), language) == []
        assert booking.visit_type.name not in text(message)


@pytest.mark.parametrize(("unfinished", "page"), [("", 'lang="ar" dir="rtl"'), ("ar", 'lang="en" dir="ltr"')])
def test_a_mail_is_in_the_patients_language_when_that_is_whole(
    diary: Cast, catalogues: Catalogues, unfinished: str, page: str
) -> None:
    catalogues.install("ar", unfinished=unfinished)
    Patient.objects.filter(pk=diary.patient.pk).update(language="ar")
    book(diary, at(9))
    (message,) = sent()
    content = part(message, "text/html").get_payload(decode=True)
    assert isinstance(content, bytes)
    assert f"<html {page}>" in content.decode()
    assert ("Wed 4 Mar" in text(message)) == bool(unfinished)


def test_without_an_address_there_is_no_attendee(diary: Cast) -> None:
    booking = book(diary, at(9), tell=False)
    booking.patient.email = ""
    assert "ATTENDEE" not in only_event(calendar.invitation(booking, method="CANCEL", now=NOW))


IN_THREE_WEEKS = date(2026, 3, 25)


class TestReminders:
    """Of a visit on Wed 25 Mar, booked on Tue 3 Mar."""

    @pytest.fixture
    def booking(self, diary: Cast) -> Booking:
        booking = book(diary, at(9, day=IN_THREE_WEEKS))
        sent()
        return booking

    def test_a_week_before_with_the_page_to_change_it(self, booking: Booking) -> None:
        (message,) = sent(now=at(9, day=date(2026, 3, 18)))
        assert message["Subject"] == "In a week: your appointment at Fernbrook"
        assert "is on Wed 25 Mar 2026, 09:00" in text(message)
        assert "/p/l/" in text(message)

    def test_two_days_before_with_the_number_to_call(self, booking: Booking) -> None:
        sent(now=at(9, day=date(2026, 3, 18)))
        (message,) = sent(now=at(9, day=date(2026, 3, 23)))
        assert message["Subject"] == "We expect you soon: your appointment at Fernbrook"
        assert "Wed 25 Mar 2026, 09:00" in text(message)
        assert "+44 20 7946 0100" in text(message)
        assert "/p/l/" not in text(message)
        assert sent(now=at(9, day=date(2026, 3, 24))) == []

    def test_who_has_said_that_they_come_is_asked_no_more_but_expected(self, diary: Cast, booking: Booking) -> None:
        actions.hear_that_they_come(booking=booking, actor=actor_of(diary.desk), now=NOW)
        assert sent(now=at(9, day=date(2026, 3, 18))) == []
        assert len(sent(now=at(9, day=date(2026, 3, 23)))) == 1

    def test_a_moved_visit_is_reminded_of_at_its_new_time(self, diary: Cast, booking: Booking) -> None:
        move(diary, booking, at(14, day=date(2026, 3, 27)))
        sent()
        assert sent(now=at(9, day=date(2026, 3, 18))) == []
        (message,) = sent(now=at(14, day=date(2026, 3, 20)))
        assert "is on Fri 27 Mar 2026, 14:00" in text(message)

    def test_who_has_not_moved_away_after_all_gets_none_back_for_a_time_that_it_had_before(
        self, diary: Cast, booking: Booking
    ) -> None:
        note_move(patient=booking.patient, actor=actor_of(diary.desk), now=NOW)
        move(diary, booking, at(14, day=date(2026, 3, 27)))
        take_move_back(patient=booking.patient, user=diary.desk, actor=actor_of(diary.desk), now=NOW)
        sent()
        waiting = DueMessage.objects.about(("booking", booking.pk)).filter(state=State.PLANNED).order_by("due_at")
        assert [one.due_at for one in waiting] == [at(14, day=date(2026, 3, 20)), at(14, day=date(2026, 3, 25))]

    def test_a_cancelled_one_is_not(self, diary: Cast, booking: Booking) -> None:
        booking = cancel(diary, booking)
        sent()
        assert sent(now=at(9, day=date(2026, 3, 18))) == []
        restored = actions.take_back(booking=booking, actor=actor_of(diary.desk), now=NOW)
        assert restored.status == "booked"
        sent()
        assert len(sent(now=at(9, day=date(2026, 3, 18)))) == 1

    def test_a_pencilled_one_is_only_once_it_is_firm(self, diary: Cast) -> None:
        booking = pencil(diary, at(9, day=IN_THREE_WEEKS))
        kinds = ("visit_week_before", "visit_two_days_before")
        assert not DueMessage.objects.filter(kind__in=kinds).exists()
        actions.confirm(booking=booking, actor=actor_of(diary.desk), now=NOW)
        assert DueMessage.objects.filter(kind__in=kinds, state=State.PLANNED).count() == 2

    def test_after_an_outage_it_is_missed_and_not_sent_late(self, booking: Booking) -> None:
        assert len(sent(now=at(21, day=date(2026, 3, 24)))) == 0
        missed = DueMessage.objects.filter(state=State.MISSED).values_list("kind", flat=True)
        assert set(missed) == {"visit_week_before", "visit_two_days_before"}

    @pytest.mark.parametrize("code", ["visit_week_before", "visit_two_days_before"])
    def test_a_text_is_short_and_says_nothing_clinical(self, booking: Booking, code: str) -> None:
        kind = kinds.get(code)
        message = DueMessage.objects.get(kind=code)
        letter = kind.compose(kind.load(booking.pk), message, LONGEST_LINK if kind.link else "")
        assert len(letter.sms) <= 160
        for words in ("Fernbrook", "Wed 25 Mar 2026, 09:00", "+44 20 7946 0100"):
            assert words in letter.sms
        assert clinical_words(letter.sms, "en") == clinical_words(letter.subject, "en") == []


def test_what_waits_to_be_said_is_said_though_somebody_heard_meanwhile_that_they_come(diary: Cast) -> None:
    """A mail server that was away, or a try on another channel: nothing newer says it."""
    booking = book(diary, at(9))
    actions.hear_that_they_come(booking=booking, actor=actor_of(diary.desk), now=NOW)
    (message,) = sent()
    assert message["Subject"] == "Your appointment at Fernbrook"
    assert "/p/l/" in text(message)
