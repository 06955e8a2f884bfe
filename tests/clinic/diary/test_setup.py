"""Set-up of the diary: rooms, people, lights, hours, lengths; and what the list says is missing."""

from datetime import date, time

import pytest
import time_machine
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from clinic.accounts.models import Role
from clinic.accounts.rights import NotAllowed
from clinic.accounts.setup_pages import registered
from clinic.diary.actions import setting_up
from clinic.diary.models import Resource, ResourceKind, SegmentNeed, VisitType, WorkingPattern
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, hire, sign_in
from tests.clinic.diary.house import add, resource
from tests.support import nothing_written

ROOM = {"kind": "room", "name": "Willow"}
HOURS = {
    "weekdays": ["0", "1"],
    "from_time": "09:00",
    "to_time": "17:00",
    "pause_from": "",
    "pause_to": "",
    "from_on": "2026-03-09",
}


@pytest.fixture
def manager(cast: Cast) -> Client:
    return sign_in(cast.manager)


def send(client: Client, **typed: str) -> Answer:
    return client.post(reverse("setup_resources"), typed)


def set_hours(client: Client, one: Resource, **changes: object) -> Answer:
    return client.post(reverse("setup_hours", kwargs={"pk": one.pk}), HOURS | changes)


def patterns(one: Resource) -> list[tuple[int, str, date, date | None]]:
    return [
        (row.weekday, f"{row.from_time:%H:%M}-{row.to_time:%H:%M}", row.from_on, row.until_on)
        for row in one.patterns.order_by("weekday", "from_on", "from_time")
    ]


def test_it_works(cast: Cast, manager: Client) -> None:
    assert send(manager, **ROOM).status_code == 302
    assert send(manager, kind="person", person=str(cast.clinician.pk)).status_code == 302
    assert send(manager, kind="light", name="Lamp 1", light_kind="arch").status_code == 302
    rows = Resource.objects.order_by("pk").values_list("kind", "name", "light_kind")
    assert list(rows) == [("room", "Willow", ""), ("person", "Cleo Haddad", ""), ("light", "Lamp 1", "arch")]
    assert TrailEntry.objects.filter(verb="diary.resource_changed").count() == 3
    page = manager.get(reverse("setup_resources"))
    assert "3 rooms, people and lights" in page.content.decode()


def test_wrong_role(cast: Cast) -> None:
    client = sign_in(cast.clinician)
    with nothing_written():
        assert send(client, **ROOM).status_code == 403
    with nothing_written(), pytest.raises(NotAllowed):
        setting_up.add_resource(
            site=cast.fernbrook,
            kind=ResourceKind.ROOM,
            name="Willow",
            user=cast.clinician,
            actor=actor_of(cast.clinician),
        )


def test_other_site(cast: Cast) -> None:
    room = add(cast, ResourceKind.ROOM, name="Willow")
    stranger = sign_in(hire(cast.alderton, Role.MANAGER, name="Max Elsewhere", email="max@example.org"))
    with nothing_written():
        assert set_hours(stranger, room).status_code == 404


def test_wrong_method(manager: Client) -> None:
    assert manager.put(reverse("setup_visits")).status_code == 405


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({}, "kind"),
        ({"kind": "cupboard", "name": "x"}, "kind"),
        ({"kind": "room", "name": ""}, "name"),
        ({"kind": "room", "name": "x" * 121}, "name"),
        ({"kind": "room", "name": "Wil\x00low"}, "name"),
        ({"kind": "person"}, "person"),
        ({"kind": "light", "name": "Lamp 1"}, "light_kind"),
    ],
)
def test_bad_input(manager: Client, typed: dict[str, str], field: str) -> None:
    with nothing_written():
        page = send(manager, **typed)
    assert page.status_code == 422
    assert field in page.context["form"].errors
    assert page.context["form"]["name"].value() == typed.get("name")


def test_a_name_in_use(cast: Cast, manager: Client) -> None:
    add(cast, ResourceKind.ROOM, name="Willow")
    with nothing_written():
        page = send(manager, **ROOM)
    assert page.status_code == 422
    assert page.context["form"].errors["name"] == ["There is already one of that name here. Give it another name."]
    # A light may be called like a room.
    assert send(manager, kind="light", name="Willow", light_kind="arch").status_code == 302


def test_somebody_of_another_site_is_nobody_here(cast: Cast, manager: Client) -> None:
    with nothing_written():
        assert send(manager, kind="person", person=str(cast.elsewhere.pk)).status_code == 422


def test_hours_replace_from_a_day_on(cast: Cast, manager: Client) -> None:
    room = add(cast, ResourceKind.ROOM, name="Willow")
    assert set_hours(manager, room, from_time="10:00").status_code == 302
    since, new = date(2020, 1, 1), date(2026, 3, 9)
    assert patterns(room)[:4] == [
        (0, "09:00-17:00", since, new),
        (0, "10:00-17:00", new, None),
        (1, "09:00-17:00", since, new),
        (1, "10:00-17:00", new, None),
    ]
    assert patterns(room)[4] == (2, "09:00-17:00", since, None)
    # Said once more for an earlier day: what lies after it is replaced.
    set_hours(manager, room, from_time="11:00", from_on="2026-03-02", weekdays=["0"])
    assert [row for row in patterns(room) if row[0] == 0] == [
        (0, "09:00-17:00", since, date(2026, 3, 2)),
        (0, "11:00-17:00", date(2026, 3, 2), None),
    ]


def test_a_pause_and_a_closed_day(cast: Cast, manager: Client) -> None:
    room = add(cast, ResourceKind.ROOM, name="Willow", hours=None)
    set_hours(manager, room, weekdays=["0"], pause_from="12:30", pause_to="13:30")
    assert [row[1] for row in patterns(room)] == ["09:00-12:30", "13:30-17:00"]
    set_hours(manager, room, weekdays=["0"], closed="on", from_time="", to_time="", from_on="2026-03-16")
    assert {row[3] for row in patterns(room)} == {date(2026, 3, 16)}
    entry = TrailEntry.objects.filter(verb="diary.hours_changed").latest("pk")
    assert entry.actor_name == cast.manager.name


@time_machine.travel(NOW, tick=False)
def test_every_other_week_early_and_for_a_month(cast: Cast, manager: Client) -> None:
    room = add(cast, ResourceKind.ROOM, name="Willow")
    early = {"every_weeks": "2", "weekdays": ["0"], "from_time": "08:00", "to_time": "13:00", "last_on": "2026-04-05"}
    assert set_hours(manager, room, **early).status_code == 302
    first, monday = date(2026, 3, 9), [row for row in room.patterns.all() if row.weekday == 0]
    shown = [(row.from_on, f"{row.from_time:%H:%M}", row.until_on, row.every_weeks) for row in monday]
    assert sorted(shown) == [
        (date(2020, 1, 1), "09:00", first, 1),
        (first, "08:00", date(2026, 4, 6), 2),
        (date(2026, 3, 16), "09:00", date(2026, 4, 6), 2),
        (date(2026, 4, 6), "09:00", None, 1),
    ]
    page = manager.get(reverse("setup_hours", kwargs={"pk": room.pk})).content.decode()
    assert "every other week, next on" in page
    with pytest.raises(IntegrityError), transaction.atomic():
        WorkingPattern.objects.filter(pk=monday[0].pk).update(every_weeks=3)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"every_weeks": "3"}, "every_weeks"),
        ({"last_on": "2026-03-08"}, "last_on"),
        ({"from_on": "0001-01-01"}, "from_on"),
        ({"last_on": "9999-12-31"}, "last_on"),
        ({"weekdays": []}, "weekdays"),
        ({"weekdays": ["7"]}, "weekdays"),
        ({"from_time": "", "to_time": ""}, "from_time"),
        ({"to_time": "09:00"}, "to_time"),
        ({"from_time": "25:00"}, "from_time"),
        ({"from_time": "nine"}, "from_time"),
        ({"from_on": "31 2 2026"}, "from_on"),
        ({"from_on": ""}, "from_on"),
        ({"pause_from": "12:00"}, "pause_to"),
        ({"pause_from": "12:00", "pause_to": "11:00"}, "pause_to"),
        ({"pause_from": "08:00", "pause_to": "10:00"}, "pause_from"),
        ({"pause_from": "16:00", "pause_to": "18:00"}, "to_time"),
    ],
)
def test_hours_that_cannot_be(cast: Cast, manager: Client, changes: dict[str, object], field: str) -> None:
    room = add(cast, ResourceKind.ROOM, name="Willow")
    with nothing_written():
        page = set_hours(manager, room, **changes)
    assert page.status_code == 422
    assert field in page.context["form"].errors


def test_the_usual_visits_are_added_once(cast: Cast, manager: Client) -> None:
    for _ in range(2):
        assert manager.post(reverse("setup_visits")).status_code == 302
    assert list(VisitType.objects.values_list("name", flat=True)) == [
        "Consultation",
        "Impressions or scan",
        "Month review",
        "Problem visit",
        "Scale and polish",
        "Tray fitting",
        "Whitening session",
    ]
    session = VisitType.objects.get(name="Whitening session")
    rows = session.segments.values_list("name", "minutes", "per_cycle", "basis")
    assert rows[2] == ("Cycle", 20, True, "common practice, no source")
    assert {row[3] for row in rows} == {"common practice, no source"}
    lights = SegmentNeed.objects.filter(segment__visit_type=session, need="light_any")
    assert set(lights.values_list("only_with_light", flat=True)) == {True}


def missing(cast: Cast) -> list[str]:
    return [
        str(sentence)
        for page in registered()
        if page.code.startswith("diary")
        for sentence in page.missing(cast.fernbrook)
    ]


def test_what_is_missing(cast: Cast, manager: Client) -> None:
    assert missing(cast) == [
        "There is no room yet. Until then nothing can be booked.",
        "Nobody has a place in the diary yet. Until then nothing can be booked.",
        "There is no kind of visit yet. Until then nothing can be booked.",
    ]
    text = manager.get(reverse("setup")).content.decode()
    assert reverse("setup_resources") in text
    assert reverse("setup_visits") in text
    add(cast, ResourceKind.ROOM, name="Willow", hours=None)
    add(cast, ResourceKind.PERSON, name="Cleo Haddad", person=cast.clinician)
    manager.post(reverse("setup_visits"))
    assert missing(cast) == ["Willow has no hours yet, so it is never offered."]
    set_hours(manager, resource("Willow"))
    assert missing(cast) == []
    assert WorkingPattern.objects.filter(resource__name="Willow", from_time=time(9)).count() == 2
