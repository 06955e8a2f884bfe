"""Leave, training, rooms out of use, closed days; and the visits that a change of working time would leave outside."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import Role, Site
from clinic.accounts.rights import NotAllowed
from clinic.diary import actions
from clinic.diary.actions import closing
from clinic.diary.models import Booking, Closure, ClosureKind
from clinic.diary.outside import visits_outside
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, hire, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, pencil, resource
from tests.support import nothing_written

LEAVE = {
    "kind": "leave",
    "from_on": "2026-03-04",
    "from_time": "",
    "last_on": "2026-03-06",
    "to_time": "",
    "reason": "",
}


@pytest.fixture(autouse=True)
def at_now() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def manager(diary: Cast) -> Client:
    return sign_in(diary.manager)


def send(client: Client, whom: str = "Cleo Haddad", **typed: object) -> Answer:
    picked = str(resource(whom).pk) if whom else ""
    return client.post(reverse("setup_closures"), LEAVE | {"resource": picked} | typed)


def save_anyway(client: Client, page: Answer, **typed: object) -> Answer:
    shown = [str(one.booking.pk) for one in page.context["visits"]]
    return send(client, anyway="1", agreed=shown, **typed)  # type: ignore[arg-type]


def spans() -> list[tuple[str, datetime, datetime]]:
    return [(one.kind, one.starts_at, one.ends_at) for one in Closure.objects.all()]


def outside(cast: Cast, now: datetime = NOW) -> list[tuple[int, list[str]]]:
    found = visits_outside(cast.fernbrook, now=now)
    return [(one.booking.pk, sorted(f"{miss.whom}: {miss.why}" for miss in one.misses)) for one in found]


def test_it_works(diary: Cast, manager: Client) -> None:
    assert send(manager, reason="two days in the hills").status_code == 302
    assert spans() == [("leave", at(0), at(0, day=date(2026, 3, 7)))]
    page = manager.get(reverse("setup_closures")).content.decode()
    for words in ("Cleo Haddad: leave", "Wed 4 Mar 2026 – Fri 6 Mar 2026", "two days in the hills"):
        assert words in page
    (entry,) = TrailEntry.objects.filter(verb="diary.closed")
    assert entry.actor_name == diary.manager.name
    assert "Wed 4 Mar 2026" in manager.get(reverse("setup_hours", args=[resource("Cleo Haddad").pk])).content.decode()
    held = book(diary, at(9))
    assert {claim.resource.name for claim in held.claims.all()} & {"Cleo Haddad", "Bo Lindqvist"} == {"Bo Lindqvist"}
    assert manager.post(reverse("setup_closure_take_back", args=[Closure.objects.get().pk])).status_code == 302
    assert not Closure.objects.exists()
    assert TrailEntry.objects.filter(verb="diary.closure_taken_back").count() == 1


@pytest.mark.parametrize(
    ("whom", "typed", "span"),
    [
        (
            "Willow",
            {"kind": "out_of_use", "last_on": "", "from_time": "12:00", "to_time": "14:30"},
            (at(12), at(14, 30)),
        ),
        ("Lamp 1", {"kind": "out_of_use", "last_on": ""}, (at(0), at(0) + timedelta(days=1))),
        ("", {"kind": "training", "from_time": "13:00", "last_on": ""}, (at(13), at(0) + timedelta(days=1))),
        ("Tam Nguyen", {"kind": "training", "to_time": "12:00"}, (at(0), at(12, day=date(2026, 3, 6)))),
        # Across the change to summer time the days are whole on the wall: 23 hours the last one.
        (
            "",
            {"kind": "closed", "from_on": "2026-03-28", "last_on": "2026-03-29"},
            (at(0, day=date(2026, 3, 28)), at(23, day=date(2026, 3, 29))),
        ),
    ],
)
def test_what_can_be_closed(manager: Client, whom: str, typed: dict[str, str], span: tuple[datetime, datetime]) -> None:
    assert send(manager, whom, **typed).status_code == 302
    assert [one[1:] for one in spans()] == [span]


@pytest.mark.parametrize(
    ("whom", "typed", "field"),
    [
        ("Willow", {}, "resource"),
        ("", {}, "resource"),
        ("Cleo Haddad", {"kind": "out_of_use"}, "resource"),
        ("Willow", {"kind": "training"}, "resource"),
        ("Willow", {"kind": "closed"}, "resource"),
        ("", {"kind": "holiday"}, "kind"),
        ("Cleo Haddad", {"last_on": "2026-03-03"}, "last_on"),
        ("Cleo Haddad", {"last_on": "", "from_time": "12:00", "to_time": "12:00"}, "to_time"),
        ("Cleo Haddad", {"from_on": "soon"}, "from_on"),
        ("Cleo Haddad", {"from_on": "9999-12-31"}, "from_on"),
        ("Cleo Haddad", {"from_on": "2026-02-02", "last_on": "2026-03-02"}, "last_on"),
        ("Cleo Haddad", {"reason": "x\x00"}, "reason"),
    ],
)
def test_what_cannot(manager: Client, whom: str, typed: dict[str, str], field: str) -> None:
    with nothing_written():
        page = send(manager, whom, **typed)
    assert page.status_code == 422
    assert field in page.context["form"].errors


def test_wrong_role_and_other_site(diary: Cast, manager: Client) -> None:
    send(manager)
    closure = Closure.objects.get()
    stranger = sign_in(hire(diary.alderton, Role.MANAGER, name="Max Elsewhere", email="max@example.org"))
    desk = sign_in(diary.desk)
    with nothing_written():
        assert send(desk).status_code == 403
        assert stranger.post(reverse("setup_closure_take_back", args=[closure.pk])).status_code == 404
        # A person of another site cannot even be picked.
        assert send(stranger).status_code == 422
        who: dict[str, Any] = {"user": diary.desk, "actor": actor_of(diary.desk), "now": NOW}
        with pytest.raises(NotAllowed):
            closing.take_back(closure=closure, **who)
        with pytest.raises(NotAllowed):
            closing.close(site=diary.fernbrook, closures=[closure], **who)


def test_one_that_has_begun_ends_when_it_is_taken_back(diary: Cast, manager: Client) -> None:
    send(manager, "", kind="closed", from_on="2026-03-02")
    address = reverse("setup_closure_take_back", args=[Closure.objects.get().pk])
    assert manager.post(address).status_code == 302
    assert spans() == [("closed", at(0, day=date(2026, 3, 2)), NOW)]
    with nothing_written():
        assert manager.post(address, follow=True).status_code == 200


@pytest.mark.parametrize("kind", ["leave", "out_of_use", "party"])
def test_the_database_knows_whom_a_kind_needs(diary: Cast, kind: str) -> None:
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        Closure.objects.create(site=diary.fernbrook, kind=kind, starts_at=at(9), ends_at=at(10))
    of_a_room = Closure(site=diary.fernbrook, resource=resource("Willow"), kind=ClosureKind.CLOSED)
    of_a_room.starts_at, of_a_room.ends_at = at(9), at(10)
    with nothing_written(), pytest.raises(IntegrityError), transaction.atomic():
        of_a_room.save()


def test_visits_inside_are_shown_first_and_become_a_to_do(diary: Cast, manager: Client) -> None:
    inside = book(diary, at(9), person=resource("Cleo Haddad").pk)
    other = book(diary, at(9), patient=another_patient(diary), person=resource("Bo Lindqvist").pk)
    gone = book(diary, at(15), patient=another_patient(diary, 2), person=resource("Cleo Haddad").pk)
    actions.cancel(booking=gone, by="practice", reason="", actor=actor_of(diary.desk), now=NOW)
    with nothing_written():
        page = send(manager)
    assert page.status_code == 409
    text = page.content.decode()
    for words in ("1 booked visit would lie outside", "Amara Nwosu", "Wed 4 Mar 2026, 09:00", "Cleo Haddad: leave"):
        assert words in text
    assert "Ines Costa" not in text
    # What was typed stays; the first button in the form is not the one that saves.
    assert page.context["form"]["last_on"].value() == "2026-03-06"
    assert text.index("Look again after a change") < text.index("Save anyway")
    assert save_anyway(manager, page).status_code == 302
    assert outside(diary) == [(inside.pk, ["Cleo Haddad: leave"])]
    (entry,) = TrailEntry.objects.filter(verb="diary.closed")
    assert "visits" in entry.fields
    # Nothing about the visits themselves has changed, and the day shows both.
    assert Booking.objects.get(pk=inside.pk).status == "booked"
    day = sign_in(diary.desk).get(reverse("diary_day", args=[DAY.isoformat()]))
    assert {one.pk for one in day.context["read"].bookings} == {inside.pk, other.pk}
    # Moved, it is no to-do any more; taken back, none is.
    actions.move(booking=inside, start_at=at(9, day=date(2026, 3, 9)), actor=actor_of(diary.desk), now=NOW)
    assert outside(diary) == []


def test_a_visit_booked_after_the_list_was_shown_is_shown_too(diary: Cast, manager: Client) -> None:
    book(diary, at(9))
    closed = {"whom": "", "kind": "closed"}
    page = send(manager, **closed)
    book(diary, at(11), patient=another_patient(diary))
    with nothing_written():
        again = save_anyway(manager, page, **closed)
    assert again.status_code == 409
    assert [one.booking.patient.name for one in again.context["visits"]] == ["Amara Nwosu", "Ines Costa 1"]
    with nothing_written():
        # The numbers without the button agree to nothing, and what is no number is passed over.
        assert send(manager, **closed, agreed=["1", "2", "x", "9" * 30]).status_code == 409
    assert save_anyway(manager, again, **closed).status_code == 302
    assert len(outside(diary)) == 2


def test_hours_changed_and_changed_back(diary: Cast, manager: Client) -> None:
    """The list is empty again, and on no day has a visit been away from the diary."""
    early, late = book(diary, at(9)), pencil(diary, at(14), patient=another_patient(diary))
    room = resource(Booking.objects.get(pk=late.pk).claims.filter(need="room")[0].resource.name)
    address = reverse("setup_hours", args=[room.pk])
    hours = {"weekdays": ["2"], "from_time": "09:00", "to_time": "14:30", "from_on": "2026-03-04", "every_weeks": "1"}
    with nothing_written():
        page = manager.post(address, hours)
    assert page.status_code == 409
    assert [one.booking.pk for one in page.context["visits"]] == [late.pk]
    assert manager.post(address, hours | {"anyway": "1", "agreed": [str(late.pk)]}).status_code == 302
    assert outside(diary) == [(late.pk, [f"{room.name}: outside working hours"])]
    shown = sign_in(diary.desk).get(reverse("diary_day", args=[DAY.isoformat()])).context["read"].bookings
    assert {one.pk for one in shown} == {early.pk, late.pk}
    # A further change that does not touch it says nothing about it.
    assert manager.post(address, hours | {"weekdays": ["3"]}).status_code == 302
    assert manager.post(address, hours | {"to_time": "17:00"}).status_code == 302
    assert outside(diary) == []


def test_what_is_over_or_of_another_site_is_no_to_do(diary: Cast) -> None:
    held = book(diary, at(9))
    Closure.objects.create(site=diary.fernbrook, kind="closed", starts_at=at(8), ends_at=at(18))
    assert [pk for pk, _why in outside(diary)] == [held.pk]
    assert outside(diary, now=held.ends_at) == []
    assert visits_outside(Site.objects.get(slug="alderton"), now=NOW) == []
    # A time that was held on the telephone until now, and a visit that is finished.
    for changes in ({"status": "pending", "lapses_at": NOW}, {"status": "fulfilled"}):
        Booking.objects.filter(pk=held.pk).update(**changes)
        assert outside(diary) == []


def test_queries_do_not_grow_with_the_visits(diary: Cast) -> None:
    counts = []
    for hour, number in ((9, 1), (11, 2), (13, 3)):
        book(diary, at(hour), patient=another_patient(diary, number))
        Closure.objects.create(site=diary.fernbrook, kind="closed", starts_at=at(hour), ends_at=at(hour + 1))
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert len(visits_outside(diary.fernbrook, now=NOW)) == number
        counts.append(len(queries))
    assert counts == [9, 9, 9]
