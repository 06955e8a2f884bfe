"""Days and times that suit, why there is nothing sooner, and sooner times without a wish."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from clinic.diary.alternatives import alternatives
from clinic.diary.engine.spans import to_minute
from clinic.diary.engine.wishes import Wishes
from clinic.diary.models import Booking, Closure, ClosureKind, ResourceKind
from clinic.diary.openings import ANY_TIME, Openings, Wanted, find
from tests.answer import Answer
from tests.cast import NOW, Cast, sign_in
from tests.clinic.diary.house import at, book, resource, visit
from tests.support import nothing_written

LONDON, BERLIN = ZoneInfo("Europe/London"), ZoneInfo("Europe/Berlin")
WEDNESDAY = date(2026, 3, 4)
THURSDAYS = Wishes(frozenset({3}))
AFTERNOONS = Wishes(frozenset(), time(13), time(16))


@pytest.fixture
def desk(diary: Cast) -> Iterator[Client]:
    with time_machine.travel(NOW, tick=False):
        yield sign_in(diary.desk)


def look(cast: Cast, *, days: int = 30, start: datetime | None = None, **wanted: object) -> Openings:
    start_at = start or at(9)
    return find(
        site=cast.fernbrook,
        wanted=Wanted(visit(), **wanted),  # type: ignore[arg-type]
        earliest_at=start_at,
        latest_at=start_at + timedelta(days=days),
        limit=4,
    )


def starts(found: Openings) -> list[str]:
    return [f"{one.start_at:%a %d %H:%M}" for one in found.found]


wishes = st.builds(
    Wishes,
    st.frozensets(st.integers(0, 6), max_size=4),
    st.none() | st.times(),
    st.none() | st.times(),
)
# Both nights of a clock change lie in these weeks of 2026: 29 March and 25 October (Directive 2000/84/EC).
first_days = st.sampled_from([date(2026, 3, 26), date(2026, 10, 22), date(2026, 6, 1)])


@given(wishes, first_days, st.integers(1, 300), st.integers(0, 6 * 24 * 60))
def test_a_start_suits_when_the_wall_clock_says_so(wish: Wishes, first_on: date, minutes: int, number: int) -> None:
    """Against the wall clock, minute by minute: starts on the day, late enough, and over in time that day."""
    start = to_minute(datetime.combine(first_on, time(0), tzinfo=BERLIN).astimezone(UTC)) + number
    begins = datetime.fromtimestamp(start * 60, tz=UTC).astimezone(BERLIN)
    ends = (begins.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(BERLIN)
    suits = not wish.weekdays or begins.weekday() in wish.weekdays
    if wish.not_before is not None:
        suits = suits and begins.astimezone(UTC) >= instant(begins.date(), wish.not_before)
    if wish.over_by is not None:
        suits = suits and ends.astimezone(UTC) <= instant(begins.date(), wish.over_by)
    found = wish.starts(minutes=minutes, first_on=first_on, days=7, zone=BERLIN)
    assert any(first <= start < end for first, end in found) is suits


def instant(day: date, at_time: time) -> datetime:
    return datetime.combine(day, at_time, tzinfo=BERLIN).astimezone(UTC)


@pytest.mark.parametrize(
    ("wish", "found"),
    [
        (ANY_TIME, ["Wed 04 09:00", "Wed 04 09:15"]),
        (THURSDAYS, ["Thu 05 09:00", "Thu 05 09:15"]),
        (AFTERNOONS, ["Wed 04 13:00", "Wed 04 13:15"]),
        (Wishes(frozenset({0, 4}), time(16)), ["Fri 06 16:00", "Fri 06 16:15"]),
        # 35 minutes, so a quarter past three is the last start that is over at four.
        (Wishes(frozenset(), time(15, 15), time(16)), ["Wed 04 15:15", "Thu 05 15:15"]),
        (Wishes(frozenset({6})), []),
        (Wishes(frozenset(), time(15, 30), time(16)), []),
    ],
)
def test_only_what_suits_is_offered(diary: Cast, wish: Wishes, found: list[str]) -> None:
    assert starts(look(diary, wishes=wish))[:2] == found


class TestWhyNothingSooner:
    def test_the_day_on_which_it_ends_is_named(self, diary: Cast) -> None:
        for name in ("Cleo Haddad", "Bo Lindqvist"):
            away(diary, name, until=date(2026, 3, 12))
        found = look(diary)
        assert starts(found)[0] == "Thu 12 09:00"
        assert found.gap is not None
        assert (found.gap.until, [str(one) for one in found.gap.reasons]) == (
            date(2026, 3, 12),
            ["no clinician who may examine and decide is free long enough"],
        )

    def test_when_there_is_none_at_all(self, diary: Cast) -> None:
        """The dentists come back in the third week, but the rooms are closed from then on."""
        for name in ("Cleo Haddad", "Bo Lindqvist"):
            away(diary, name, until=date(2026, 3, 19))
        for name in ("Willow", "Alder"):
            away(diary, name, start=date(2026, 3, 19), until=date(2026, 6, 1))
        found = look(diary)
        assert (found.found, found.gap) == ([], None)
        assert [str(one) for one in found.reasons] == [
            "no room is free long enough in some of these weeks",
            "no clinician who may examine and decide is free long enough before Thu 19 Mar 2026",
        ]

    def test_a_weekend_needs_no_words(self, diary: Cast) -> None:
        friday_evening = at(17, day=date(2026, 3, 6))
        found = look(diary, start=friday_evening)
        assert (starts(found)[0], found.gap) == ("Mon 09 09:00", None)

    def test_it_asks_no_more_when_the_first_day_is_free(self, diary: Cast) -> None:
        assert look(diary).gap is None


def away(cast: Cast, name: str, *, start: date = WEDNESDAY, until: date) -> None:
    who = resource(name)
    Closure.objects.create(
        site=cast.fernbrook,
        resource=who,
        kind=ClosureKind.LEAVE if who.kind == ResourceKind.PERSON else ClosureKind.OUT_OF_USE,
        starts_at=datetime.combine(start, time(0), tzinfo=UTC),
        ends_at=datetime.combine(until, time(0), tzinfo=UTC),
    )


class TestSoonerWithoutAWish:
    def offered(self, cast: Cast, **wanted: object) -> list[tuple[str, str, tuple[str, ...]]]:
        asked = Wanted(visit(), **wanted)  # type: ignore[arg-type]
        until_at = at(9) + timedelta(days=30)
        found = find(site=cast.fernbrook, wanted=asked, earliest_at=at(9), latest_at=until_at)
        others = alternatives(site=cast.fernbrook, wanted=asked, earliest_at=at(9), latest_at=until_at, found=found)
        return [(str(one.label), f"{one.opening.start_at:%a %d %H:%M}", one.without) for one in others]

    def test_with_somebody_else(self, diary: Cast) -> None:
        away(diary, "Bo Lindqvist", until=date(2026, 3, 9))
        assert self.offered(diary, person=resource("Bo Lindqvist").pk) == [
            ("Sooner with somebody else", "Wed 04 09:00", ("person",))
        ]

    def test_at_another_time(self, diary: Cast) -> None:
        assert self.offered(diary, wishes=THURSDAYS) == [
            ("Sooner at another time", "Wed 04 09:00", ("weekdays", "not_before", "over_by"))
        ]

    def test_each_gives_up_more_and_is_sooner(self, diary: Cast) -> None:
        away(diary, "Bo Lindqvist", until=date(2026, 3, 6))
        asked = {"person": resource("Bo Lindqvist").pk, "wishes": THURSDAYS}
        assert [(label, when) for label, when, _without in self.offered(diary, **asked)] == [
            ("Sooner with somebody else", "Thu 05 09:00"),
            ("Sooner with somebody else at another time", "Wed 04 09:00"),
        ]

    def test_none_where_nothing_is_wished_or_nothing_is_sooner(self, diary: Cast) -> None:
        assert self.offered(diary) == []
        assert self.offered(diary, person=resource("Cleo Haddad").pk) == []


class TestThePage:
    def page(self, client: Client, cast: Cast, **asked: Any) -> Answer:
        return client.get(reverse("find_time", kwargs={"patient_pk": cast.patient.pk}), asked)

    def test_it_works(self, diary: Cast, desk: Client) -> None:
        asked = {"weekdays": ["3", "4"], "not_before": "14:00", "over_by": "16:00"}
        page = self.page(desk, diary, **asked)
        html = page.content.decode()
        assert "<details open>" in html
        assert "Sooner at another time: <time" in html
        first = page.context["found"].openings.found[0]
        assert f"{first.start_at:%a %H:%M}" == "Thu 14:00"
        query = "weekdays=3&weekdays=4&not_before=14:00&over_by=16:00"
        where = reverse("find_time", kwargs={"patient_pk": diary.patient.pk})
        desk.post(f"{where}?visit_type={visit().pk}&{query}", {"start_at": first.start_at.isoformat()})
        assert Booking.objects.get().starts_at == first.start_at

    def test_the_link_keeps_every_other_wish(self, diary: Cast, desk: Client) -> None:
        """Followed, it shows the promised time first."""
        page = self.page(desk, diary, weekdays=["3"], person=resource("Cleo Haddad").pk, visit_type=visit().pk)
        (sooner,) = page.context["found"].alternatives
        assert f"person={resource('Cleo Haddad').pk}" in page.content.decode().partition("Sooner at another time")[0]
        again = self.page(desk, diary, person=resource("Cleo Haddad").pk, visit_type=visit().pk)
        assert again.context["found"].openings.found[0].start_at == sooner.opening.start_at

    def test_nothing_before_is_said_with_its_reason(self, diary: Cast, desk: Client) -> None:
        for name in ("Cleo Haddad", "Bo Lindqvist"):
            away(diary, name, start=NOW.date(), until=date(2026, 3, 12))
        html = self.page(desk, diary).content.decode()
        assert "Nothing before Thu 12 Mar 2026: no clinician who may examine and decide is free long enough." in html

    @pytest.mark.parametrize(
        ("asked", "sentence"),
        [
            ({"not_before": "16:00", "over_by": "15:00"}, "This must be later than “Not before”."),
            ({"not_before": "noon"}, "Write a time such as 9:00."),
            ({"weekdays": ["9"]}, "Choose one from the list; the one sent is not on it any more."),
            ({"from_on": "31 2 2026"}, "That is not a date."),
        ],
    )
    def test_bad_input(self, diary: Cast, desk: Client, asked: dict[str, object], sentence: str) -> None:
        assert diary.patient.pk
        with nothing_written():
            page = self.page(desk, diary, **asked)
        assert page.status_code == 422
        assert sentence in page.content.decode()

    def test_a_time_that_does_not_suit_can_still_be_taken(self, diary: Cast, desk: Client) -> None:
        """A wish is not a rule: the patient on the telephone says yes to another time after all."""
        where = reverse("find_time", kwargs={"patient_pk": diary.patient.pk})
        desk.post(f"{where}?visit_type={visit().pk}&weekdays=3", {"start_at": at(9).isoformat()})
        assert Booking.objects.get().starts_at == at(9)

    def test_moving_asks_the_same(self, diary: Cast, desk: Client) -> None:
        booking = book(diary, at(9), tell=False)
        page = desk.get(reverse("booking_move", kwargs={"pk": booking.pk}), {"weekdays": ["3"]})
        assert f"{page.context['found'].openings.found[0].start_at:%a %H:%M}" == "Thu 09:00"
