"""Calendar feeds for tests: made, fetched, read back; and visits at any time of the night."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import time_machine
from django.test import Client
from django.urls import reverse
from icalendar import Event

from clinic.diary import actions
from clinic.diary.models import Booking, CalendarFeed, Need, ResourceClaim, Status
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import resource, visit
from tests.clinic.diary.ics import events


def make(cast: Cast, name: str = "Willow", **changes: Any) -> tuple[CalendarFeed, str]:
    given: dict[str, Any] = {"with_initials": False, "label": "", "user": cast.manager, "now": NOW}
    given |= changes
    return actions.make_calendar(resource=resource(name), actor=actor_of(given["user"]), **given)


def fetch(token: str, *, now: datetime = NOW, client: Client | None = None, known: str = "") -> Answer:
    headers = {"If-None-Match": known} if known else {}
    with time_machine.travel(now, tick=False):
        return (client or Client()).get(reverse("calendar_feed", kwargs={"token": token}), headers=headers)


def read(token: str, *, now: datetime = NOW) -> list[Event]:
    answer = fetch(token, now=now)
    assert answer.status_code == 200
    return events(answer.content)


def told(event: Event) -> tuple[str, str, str]:
    return str(event["SUMMARY"]), str(event["STATUS"]), str(event["LOCATION"])


def place(cast: Cast, start_at: datetime, **changes: Any) -> Booking:
    """A visit at any time of the night, as rows: nobody works at three in the morning."""
    zone, minutes = cast.fernbrook.zone, 15
    wall = start_at.astimezone(zone)
    given: dict[str, Any] = {"status": Status.BOOKED, "starts_at": start_at, "uid": uuid4()} | changes
    booking = Booking.objects.create(
        site=cast.fernbrook,
        patient=cast.patient,
        visit_type=visit(),
        wall_on=wall.date(),
        wall_time=wall.time(),
        zone=zone.key,
        ends_at=start_at + timedelta(minutes=minutes),
        booked_at=NOW,
        booked_by="Dana Popescu",
        **given,
    )
    ResourceClaim.objects.create(
        booking=booking,
        resource=resource("Willow"),
        need=Need.ROOM,
        segment="Talk",
        start_at=start_at,
        end_at=booking.ends_at,
        active=booking.status != Status.CANCELLED,
    )
    return booking
