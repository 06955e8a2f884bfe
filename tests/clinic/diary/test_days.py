"""The day page: what stands where, in which words, in how many questions to the database."""

from datetime import date, datetime, time, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.diary import actions, marks
from clinic.diary.actions.setting_up import set_hours
from clinic.diary.models import Booking, Closure, ClosureKind, Resource, ResourceClaim, ResourceKind
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import DAY, another_patient, at, book, elsewhere_booking, pencil, resource


def day(cast: Cast, *, who: str = "desk", on: str = DAY.isoformat()) -> Answer:
    return sign_in(getattr(cast, who)).get(reverse("diary_day", kwargs={"day": on}))


@time_machine.travel(NOW, tick=False)
def test_it_works(diary: Cast) -> None:
    book(diary, at(9))
    pencil(diary, at(13), patient=another_patient(diary))
    page = day(diary)
    text = page.content.decode()
    assert "Wed 4 Mar 2026" in text
    assert "2 visits" in text
    for words in ("Amara Nwosu", "Ines Costa 1", "Consultation", "Whitening session", "pencilled", "CH"):
        assert words in text
    # In the window's title and in the history of the browser no name appears.
    assert "Amara" not in text.partition("</title>")[0]


def test_wrong_role(diary: Cast) -> None:
    """There is no role without the diary; a manager reads it and books nothing."""
    assert day(diary, who="manager").status_code == 200


def test_other_site(diary: Cast) -> None:
    elsewhere_booking(diary)
    assert "Søren" not in day(diary).content.decode()


def test_wrong_method(diary: Cast) -> None:
    assert sign_in(diary.desk).post(reverse("diary")).status_code == 405


@time_machine.travel(NOW, tick=False)
def test_today_is_the_day_on_the_wall_of_the_site(diary: Cast) -> None:
    client = sign_in(diary.desk)
    assert client.get(reverse("diary")).context["look"].day == NOW.date()
    # Nine in the morning in London is already the next day on the other side of the earth.
    Site.objects.filter(pk=diary.fernbrook.pk).update(timezone="Pacific/Kiritimati", country="KI")
    with time_machine.travel(NOW.replace(hour=11), tick=False):
        assert sign_in(diary.desk).get(reverse("diary")).context["look"].day == DAY


@pytest.mark.parametrize(
    "on", ["yesterday", "2026-02-30", "2026-3-4", "20260304", "2026-W10-3", "0001-01-01", "9999-12-31", "1969-12-31"]
)
def test_what_is_no_day_is_no_page(diary: Cast, on: str) -> None:
    assert day(diary, on=on).status_code == 404


@pytest.mark.parametrize("on", ["2027-03-28", "2026-10-25", "2028-02-29", "1970-01-01", "2200-12-31"])
def test_the_days_of_a_clock_change_and_the_ends(diary: Cast, on: str) -> None:
    assert day(diary, on=on).status_code == 200


def test_before_anything_is_set_up(cast: Cast) -> None:
    text = day(cast).content.decode()
    assert "once they are set up" in text
    assert reverse("setup_resources") in text


def test_a_room_that_is_out_of_use_shows_as_long_as_it_holds_a_visit(diary: Cast) -> None:
    book(diary, at(9))
    Resource.objects.filter(name="Willow").update(active=False)
    assert [one.name for one in day(diary).context["read"].columns] == ["Willow", "Alder"]
    assert [one.name for one in day(diary, on="2026-03-05").context["read"].columns] == ["Alder"]


def test_a_visit_without_a_room_is_listed_below(diary: Cast) -> None:
    booking = book(diary, at(9))
    ResourceClaim.objects.filter(booking=booking, resource__kind=ResourceKind.ROOM).delete()
    page = day(diary)
    assert page.context["read"].unplaced == [booking]
    assert "Without a room" in page.content.decode()


def test_two_visits_that_share_a_quarter_both_show(diary: Cast) -> None:
    """Brought in from elsewhere: on no grid."""
    book(diary, at(9))
    other = book(diary, at(14), patient=another_patient(diary))
    other.claims.all().delete()
    for start, end in ((at(9, 35), at(9, 40)), (at(9, 40), at(9, 43))):
        ResourceClaim.objects.create(
            booking=other, resource=resource("Willow"), need="room", segment="x", start_at=start, end_at=end
        )
    Booking.objects.filter(pk=other.pk).update(starts_at=at(9, 35), ends_at=at(9, 43))
    text = day(diary).content.decode()
    assert "Amara Nwosu" in text
    assert "Ines Costa 1" in text


def test_cancelled_visits_leave_the_page(diary: Cast) -> None:
    booking = book(diary, at(9))
    actions.cancel(booking=booking, by="patient", reason="", actor=actor_of(diary.desk), now=NOW)
    assert day(diary).context["read"].bookings == []


def test_the_mark_of_another_part_stands_beside_the_visit(diary: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    booking = book(diary, at(9))
    monkeypatch.setattr(marks, "_providers", [lambda _bookings, _user, _now: {booking.pk: marks.Mark("missing")}])
    assert "Missing" in day(diary).content.decode()


def by_person(cast: Cast, *, who: str = "desk", **asked: str) -> Answer:
    return sign_in(getattr(cast, who)).get(f"/diary/{DAY.isoformat()}/", {"by": "person"} | asked)


def drawn(page: Answer, name: str) -> list[tuple[str, int, str]]:
    """Start, quarters, and who or what, of everything that is not free in the column of that name."""
    return [
        (f"{row.starts_at:%H:%M}", cell.rows, str(cell.shut) or cell.placed[0].booking.patient.name)
        for row in page.context["read"].rows
        for cell in row.cells
        if cell.column.name == name and (cell.placed or cell.shut)
    ]


@time_machine.travel(NOW, tick=False)
def test_by_person(diary: Cast) -> None:
    """Each person’s own stretches: whoever is away during the cycles is free then."""
    booking = pencil(diary, at(9))
    page = by_person(diary)
    stretches = {
        name: sorted((claim.start_at, claim.end_at) for claim in booking.claims.filter(resource__name=name))
        for name in ("Cleo Haddad", "Ari Zieliński")
    }
    assert all(stretches.values())
    for name, held in stretches.items():
        shown = drawn(page, name)
        assert {who for _start, _rows, who in shown} == {"Amara Nwosu"}
        assert shown[0][0] == f"{held[0][0].replace(minute=held[0][0].minute // 15 * 15):%H:%M}"
        quarters = {minute // 15 for start, end in held for minute in range(*(_minutes(at_) for at_ in (start, end)))}
        assert sum(rows for _start, rows, _who in shown) == len(quarters)
    assert "Willow" in page.content.decode()
    assert "by=person" in page.context["links"]["after"]


def _minutes(at_: datetime) -> int:
    return at_.hour * 60 + at_.minute


def test_closed_and_outside_working_hours(diary: Cast) -> None:
    set_hours(
        resource=resource("Alder"),
        weekdays=[DAY.weekday()],
        from_time=time(10),
        to_time=time(16),
        from_on=DAY,
        pause=(time(12), time(12, 30)),
        user=diary.manager,
        actor=actor_of(diary.manager),
    )
    here = {"site": diary.fernbrook, "resource": resource("Alder"), "starts_at": at(15), "ends_at": at(18)}
    Closure.objects.create(**here, kind=ClosureKind.OUT_OF_USE, reason="new floor")
    Closure.objects.create(**here | {"resource": resource("Cleo Haddad")}, kind=ClosureKind.LEAVE, reason="a hip")
    Closure.objects.create(site=diary.fernbrook, kind=ClosureKind.CLOSED, starts_at=at(9), ends_at=at(9, 30))
    page = day(diary)
    assert drawn(page, "Willow") == [("09:00", 2, "whole site closed")]
    assert drawn(page, "Alder") == [
        ("09:00", 2, "whole site closed"),
        ("09:30", 2, "outside working hours"),
        ("12:00", 2, "outside working hours"),
        ("15:00", 8, "out of use: new floor"),
    ]
    assert "out of use: new floor" in page.content.decode()
    # That somebody is on leave, but never why.
    people = by_person(diary)
    assert drawn(people, "Cleo Haddad")[1] == ("15:00", 8, "leave")
    assert "a hip" not in people.content.decode()


def week(cast: Cast, on: str = DAY.isoformat(), **asked: str | int) -> Answer:
    return sign_in(cast.desk).get(f"/diary/{on}/week/", asked)


@time_machine.travel(NOW, tick=False)
def test_a_week_of_one_room(diary: Cast) -> None:
    book(diary, at(9))
    friday = at(11, day=DAY + timedelta(days=2))
    book(diary, friday, patient=another_patient(diary))
    elsewhere_booking(diary)
    page = week(diary)
    shown = page.context["read"]
    assert [column.day for column in shown.columns] == [date(2026, 3, number) for number in range(2, 9)]
    assert [column.day for column in shown.columns if column.is_chosen] == [DAY]
    assert drawn(page, "Wed 4 Mar 2026")[0][0::2] == ("09:00", "Amara Nwosu")
    assert drawn(page, "Fri 6 Mar 2026")[0][0::2] == ("11:00", "Ines Costa 1")
    assert drawn(page, "Sat 7 Mar 2026") == [("09:00", 32, "outside working hours")]
    # The other room holds neither of them.
    assert week(diary, of=resource("Alder").pk).context["read"].bookings == []
    assert page.context["links"]["after"].startswith("/diary/2026-03-11/week/?of=")
    assert "Amara" not in page.content.decode().partition("</title>")[0]


@time_machine.travel(NOW, tick=False)
def test_a_week_of_one_person(diary: Cast) -> None:
    book(diary, at(9))
    page = week(diary, of=resource("Cleo Haddad").pk)
    assert page.context["of"].name == "Cleo Haddad"
    assert drawn(page, "Wed 4 Mar 2026")[0][2] == "Amara Nwosu"
    assert page.context["links"]["as_day"].startswith(f"/diary/{DAY.isoformat()}/?by=person")
    assert week(diary, by="person").context["of"].name == "Cleo Haddad"


def test_nobody_elses_week(diary: Cast) -> None:
    elsewhere_booking(diary)
    for of in ("0", "-1", "x", "99999999999999999999", "٣", str(Resource.objects.get(name="Ash").pk)):
        assert week(diary, of=of).context["of"].name == "Willow", of


def test_a_week_before_anything_is_set_up(cast: Cast) -> None:
    assert "once they are set up" in week(cast).content.decode()


@time_machine.travel(NOW, tick=False)
def test_one_room_at_a_time_on_a_narrow_screen(diary: Cast) -> None:
    willow, alder = resource("Willow"), resource("Alder")
    first = day(diary)
    assert first.context["chosen"].name == "Willow"
    assert first.context["links"]["previous"] == ""
    assert first.context["links"]["next"] == f"/diary/{DAY.isoformat()}/?of={alder.pk}"
    second = sign_in(diary.desk).get(first.context["links"]["next"])
    assert second.context["chosen"].name == "Alder"
    assert second.context["links"]["previous"] == f"/diary/{DAY.isoformat()}/?of={willow.pk}"
    assert second.context["links"]["next"] == ""


@time_machine.travel(NOW, tick=False)
@pytest.mark.parametrize("by", ["", "?by=person"])
def test_a_narrow_screen_opens_on_one_with_a_visit_and_names_the_neighbours(diary: Cast, by: str) -> None:
    address = reverse("diary_day", kwargs={"day": DAY.isoformat()}) + by
    names = [column.name for column in sign_in(diary.desk).get(address).context["read"].columns]
    assert len(names) > 1
    booked = book(diary, at(9))
    kind = ResourceKind.PERSON if by else ResourceKind.ROOM
    claim = booked.claims.filter(resource__kind=kind, active=True).first()
    assert claim is not None
    last = Resource.objects.get(site=diary.fernbrook, name=names[-1])
    booked.claims.filter(pk=claim.pk).update(resource=last)
    booked.claims.filter(resource__kind=kind, active=True).exclude(resource=last).update(active=False)
    page = sign_in(diary.desk).get(address)
    assert page.context["chosen"].name == names[-1]
    assert f"Previous: {names[-2]}" in page.content.decode()
    before = sign_in(diary.desk).get(page.context["links"]["previous"])
    assert before.context["chosen"].name == names[-2]
    assert f"Next: {names[-1]}" in before.content.decode()


@pytest.mark.parametrize("look", ["", "?by=person", "week/"])
def test_queries_do_not_grow_with_the_visits(diary: Cast, look: str) -> None:
    client = sign_in(diary.desk)
    address = reverse("diary_day", kwargs={"day": DAY.isoformat()}) + look
    client.get(address)
    counts = []
    for visits in (1, 12):
        while diary.fernbrook.bookings.count() < visits:
            number = diary.fernbrook.bookings.count()
            book(diary, at(9 + number // 2), patient=another_patient(diary, number), tell=False)
        with CaptureQueriesContext(connection) as asked:
            shown = len(client.get(address).context["read"].bookings)
        # A week shows one of the two rooms.
        assert shown == (max(visits // 2, 1) if "week" in look else visits)
        counts.append(len(asked))
    assert counts[0] == counts[1]
    # Three more for the list of whose week one can see, and for whose it is.
    assert counts[0] <= (15 if look == "week/" else 12)
