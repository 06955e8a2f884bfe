"""The day page: what stands where, in which words, in how many questions to the database."""

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.accounts.models import Site
from clinic.diary import actions, marks
from clinic.diary.models import Booking, Resource, ResourceClaim, ResourceKind
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
    assert client.get(reverse("diary")).context["day"] == NOW.date()
    # Nine in the morning in London is already the next day on the other side of the earth.
    Site.objects.filter(pk=diary.fernbrook.pk).update(timezone="Pacific/Kiritimati", country="KI")
    with time_machine.travel(NOW.replace(hour=11), tick=False):
        assert sign_in(diary.desk).get(reverse("diary")).context["day"] == DAY


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
    assert [room.name for room in day(diary).context["read"].rooms] == ["Willow", "Alder"]
    assert [room.name for room in day(diary, on="2026-03-05").context["read"].rooms] == ["Alder"]


def test_a_visit_without_a_room_is_listed_below(diary: Cast) -> None:
    booking = book(diary, at(9))
    ResourceClaim.objects.filter(booking=booking, resource__kind=ResourceKind.ROOM).delete()
    page = day(diary)
    assert page.context["read"].roomless == [booking]
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


def test_queries_do_not_grow_with_the_visits(diary: Cast) -> None:
    client = sign_in(diary.desk)
    address = reverse("diary_day", kwargs={"day": DAY.isoformat()})
    client.get(address)
    counts = []
    for visits in (1, 12):
        while diary.fernbrook.bookings.count() < visits:
            number = diary.fernbrook.bookings.count()
            book(diary, at(9 + number // 2), patient=another_patient(diary, number), tell=False)
        with CaptureQueriesContext(connection) as asked:
            assert len(client.get(address).context["read"].bookings) == visits
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert counts[0] <= 20
