"""Find a time, and move a visit: openings one press away; whoever comes too late is told and shown the next."""

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.models import Booking, Resource, ResourceClaim, VisitCode, VisitType
from clinic.diary.openings import Wanted, find
from clinic.patients.models import Patient
from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, elsewhere_booking, resource, visit
from tests.support import nothing_written

pytestmark = pytest.mark.usefixtures("at_now")
NEXT_MONTH = "2026-04-01"


@pytest.fixture
def at_now() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def desk(diary: Cast) -> Client:
    return sign_in(diary.desk)


def look(client: Client, patient: Patient, **asked: str | int) -> Answer:
    return client.get(reverse("find_time", kwargs={"patient_pk": patient.pk}), asked)


def press(client: Client, patient: Patient, start: str, **asked: object) -> Answer:
    query = "&".join(f"{name}={value}" for name, value in asked.items())
    return client.post(f"{reverse('find_time', kwargs={'patient_pk': patient.pk})}?{query}", {"start_at": start})


def offered(page: Answer) -> list[str]:
    return [one.start_at.isoformat() for one in page.context["openings"].found]


def test_it_works(diary: Cast, desk: Client) -> None:
    page = look(desk, diary.patient)
    # Today, the first visit of the list, anyone suitable: openings show at once.
    assert page.status_code == 200
    assert page.context["form"]["visit_type"].value() == str(visit().pk)
    assert offered(page)[0] == "2026-03-03T09:00:00+00:00"
    assert 'value="2026-03-03T09:00:00+0000"' in page.content.decode()
    answer = press(desk, diary.patient, "2026-03-03T09:00:00+0000", visit_type=visit().pk)
    booking = Booking.objects.get()
    assert answer.headers["Location"] == reverse("booking", kwargs={"pk": booking.pk})
    assert (booking.starts_at, booking.visit_type.code, booking.booked_by) == (NOW, "consultation", "Dana Popescu")


def test_every_free_start_of_a_day_is_there(diary: Cast, desk: Client) -> None:
    """Five days that have a free time; of each the first three at once, and all the others behind "Later that day"."""
    page = look(desk, diary.patient)
    days = page.context["openings"].by_day()
    assert [f"{one.day:%a %d}" for one in days] == ["Tue 03", "Wed 04", "Thu 05", "Fri 06", "Mon 09"]
    wanted = Wanted(visit())
    for one in days:
        start_at = datetime.combine(one.day, time(), tzinfo=UTC)
        all_day = find(
            site=diary.fernbrook,
            wanted=wanted,
            earliest_at=max(start_at, NOW),
            latest_at=start_at + timedelta(days=1),
            limit=100,
        )
        assert [*one.first, *one.later] == all_day.found
        assert len(one.first) == 3
    last = days[0].later[-1]
    html = page.content.decode()
    assert f"Later that day: {len(days[0].later)} more times" in html
    assert html.count('name="start_at"') == sum(len(one.first) + len(one.later) for one in days)
    press(desk, diary.patient, last.start_at.isoformat(), visit_type=visit().pk)
    assert Booking.objects.get().starts_at == last.start_at


def test_wrong_role(diary: Cast) -> None:
    assert diary.patient.pk
    client = sign_in(diary.manager)
    with nothing_written():
        assert press(client, diary.patient, "2026-03-03T09:00:00+0000").status_code == 403


def test_other_site(diary: Cast, desk: Client) -> None:
    booking = elsewhere_booking(diary)
    with nothing_written():
        assert look(desk, diary.stranger).status_code == 404
        assert desk.post(reverse("booking_move", kwargs={"pk": booking.pk})).status_code == 404


def test_wrong_method(diary: Cast, desk: Client) -> None:
    assert desk.put(reverse("find_time", kwargs={"patient_pk": diary.patient.pk})).status_code == 405


def test_what_is_looked_for(diary: Cast, desk: Client) -> None:
    person = resource("Bo Lindqvist").pk
    asked: dict[str, str | int] = {
        "visit_type": visit(VisitCode.TREATMENT).pk,
        "cycles": 3,
        "light_kind": "arch",
        "person": person,
    }
    page = look(desk, diary.patient, from_on=NEXT_MONTH, **asked)
    # Summer time by then: nine on the wall is eight in UTC.
    assert offered(page)[0] == "2026-04-01T08:00:00+00:00"
    press(desk, diary.patient, "2026-04-01T09:00:00+0100", from_on=NEXT_MONTH, **asked)
    booking = Booking.objects.get()
    assert (booking.cycles, booking.light_kind, f"{booking.wall_time:%H:%M}") == (3, "arch", "09:00")
    assert {claim.resource.name for claim in booking.claims.filter(need="clinician")} == {"Bo Lindqvist"}


def test_cycles_and_light_are_asked_only_where_they_count(diary: Cast, desk: Client) -> None:
    asked: dict[str, str | int] = {"visit_type": visit().pk, "cycles": 3, "light_kind": "arch"}
    page = look(desk, diary.patient, **asked).content.decode()
    assert "Planned cycles" not in page
    assert 'name="light_kind"' not in page
    # What an address still says of them changes nothing.
    press(desk, diary.patient, "2026-03-03T09:00:00+0000", **asked)
    booking = Booking.objects.get()
    assert (booking.cycles, booking.light_kind) == (0, "")
    page = look(desk, diary.patient, **asked | {"visit_type": visit(VisitCode.TREATMENT).pk}).content.decode()
    assert "Planned cycles" in page
    assert 'name="light_kind"' in page


BAD = [
    ({"from_on": "31 2 2026"}, "from_on", "That is not a date."),
    ({"from_on": "soon"}, "from_on", "That is not a date."),
    ({"from_on": "9999-12-31"}, "from_on", "The diary is looked through until"),
    ({"from_on": "\x00"}, "from_on", "That is not a date."),
    ({"cycles": "40"}, "cycles", "Ensure this value is less than or equal to 6."),
    ({"cycles": "\x00"}, "cycles", "Enter a whole number."),
    ({"visit_type": "0"}, "visit_type", "Select a valid choice."),
    ({"visit_type": "x"}, "visit_type", "Select a valid choice."),
    ({"person": "9" * 30}, "person", "Select a valid choice."),
    ({"light_kind": "laser"}, "light_kind", "Select a valid choice."),
]


@pytest.mark.parametrize(("asked", "field", "sentence"), BAD)
def test_bad_input(diary: Cast, desk: Client, asked: dict[str, str], field: str, sentence: str) -> None:
    assert diary.patient.pk
    for answer in (look(desk, diary.patient, **asked),):
        assert answer.status_code == 422
        assert answer.context["form"].errors[field][0].startswith(sentence)
        assert answer.context["form"][field].value() == asked[field]


@pytest.mark.parametrize(
    "asked", [{"from_on": "2020-01-01"}, {"from_on": "0001-01-01"}, {"cycles": ""}, {"person": ""}]
)
def test_what_is_past_or_left_out_is_read_kindly(diary: Cast, desk: Client, asked: dict[str, str]) -> None:
    page = look(desk, diary.patient, **asked)
    assert page.status_code == 200
    assert offered(page)[0] == "2026-03-03T09:00:00+00:00"


@pytest.mark.parametrize(
    ("start", "status", "sentence"),
    [
        ("", 422, "Pick one of the free times."),
        ("tomorrow", 422, "That is none of the free times."),
        ("0001-01-01T00:00:00+0000", 422, "That is none of the free times."),
        ("9999-12-31T23:59:59+0000", 422, "That is none of the free times."),
        ("2026-03-03T08:45:00+0000", 409, "That time has passed."),
        ("2026-03-03T09:05:00+0000", 409, "Nobody and nothing suitable is free"),
        ("2026-03-07T09:00:00+0000", 409, "Nobody and nothing suitable is free"),
        ("2026-03-03T22:00:00+0000", 409, "Nobody and nothing suitable is free"),
    ],
)
def test_a_time_that_was_not_offered(diary: Cast, desk: Client, start: str, status: int, sentence: str) -> None:
    assert diary.patient.pk
    with nothing_written():
        page = press(desk, diary.patient, start)
    assert page.status_code == status
    assert page.context["error"].startswith(sentence)
    assert sentence in page.content.decode()
    # And what is free instead.
    assert offered(page)[0] == "2026-03-03T09:00:00+00:00"


@pytest.mark.parametrize("name", ["start_at", "hold_at"])
def test_pressed_again_on_a_second_page_it_names_the_visit_that_took_it(diary: Cast, desk: Client, name: str) -> None:
    book(diary, NOW, patient=another_patient(diary))
    book(diary, NOW)
    address = reverse("find_time", kwargs={"patient_pk": diary.patient.pk})
    with nothing_written():
        refused = desk.post(f"{address}?visit_type={visit().pk}", {name: "2026-03-03T09:00:00+0000"})
    assert refused.status_code == 409
    assert refused.context["error"].startswith("This patient already has a visit at that time: Consultation, 09:00.")


def test_a_hold_of_their_own_that_ran_out_is_not_what_took_it(diary: Cast, desk: Client) -> None:
    early = NOW - actions.HOLD_FOR
    request = actions.BookingRequest(diary.patient, visit(), NOW)
    actions.hold(site=diary.fernbrook, request=request, actor=actor_of(diary.desk), now=early)
    Booking.objects.update(lapses_at=NOW)
    ResourceClaim.objects.update(active=False)
    for number in range(2):
        book(diary, NOW, patient=another_patient(diary, number), now=early)
    with nothing_written():
        refused = press(desk, diary.patient, "2026-03-03T09:00:00+0000", visit_type=visit().pk)
    assert refused.context["error"] == "That time has just been taken. Pick one of the next free times."


def test_the_other_desk_was_faster(diary: Cast, desk: Client) -> None:
    page = look(desk, diary.patient)
    for number in range(2):
        book(diary, NOW, patient=another_patient(diary, number))
    with nothing_written():
        refused = press(desk, diary.patient, "2026-03-03T09:00:00+0000", visit_type=visit().pk)
    assert refused.status_code == 409
    assert refused.context["error"] == "That time has just been taken. Pick one of the next free times."
    assert offered(page)[0] == "2026-03-03T09:00:00+00:00"
    assert offered(refused)[0] == "2026-03-03T09:45:00+00:00"


def test_two_presses_book_once(diary: Cast, desk: Client) -> None:
    assert press(desk, diary.patient, "2026-03-03T09:00:00+0000").status_code == 302
    with nothing_written():
        again = press(desk, diary.patient, "2026-03-03T09:00:00+0000")
    assert again.status_code == 409
    assert "already has a visit at that time" in again.context["error"]


def test_before_any_visit_is_set_up(cast: Cast) -> None:
    client = sign_in(cast.desk)
    for page in (look(client, cast.patient), press(client, cast.patient, "2026-03-03T09:00:00+0000")):
        assert page.status_code == 200
        assert "No visit can be booked here yet" in page.content.decode()
    VisitType.objects.create(site=cast.fernbrook, code=VisitCode.OTHER, name="Photographs")
    assert "No visit can be booked here yet" in look(client, cast.patient).content.decode()


def test_no_free_time_says_why(diary: Cast, desk: Client) -> None:
    Resource.objects.filter(kind="room").update(active=False)
    assert "no room is free long enough" in look(desk, diary.patient).content.decode()


def move(client: Client, booking: Booking, start: str, *, version: int = 1, **asked: object) -> Answer:
    query = "&".join(f"{name}={value}" for name, value in asked.items())
    address = f"{reverse('booking_move', kwargs={'pk': booking.pk})}?{query}"
    return client.post(address, {"start_at": start, "version": version})


def test_moving(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    page = desk.get(reverse("booking_move", kwargs={"pk": booking.pk}), {"from_on": "2026-03-04"})
    # Its own time is free for it, and the page knows which version of the visit it shows.
    assert offered(page)[0] == "2026-03-04T09:00:00+00:00"
    assert 'name="version" value="1"' in page.content.decode()
    answer = move(desk, booking, "2026-03-04T14:00:00+0000")
    assert answer.headers["Location"] == reverse("booking", kwargs={"pk": booking.pk})
    assert Booking.objects.get().starts_at == at(14)


def test_moving_from_a_stale_page(diary: Cast, desk: Client) -> None:
    booking = book(diary, at(9))
    move(desk, booking, "2026-03-04T14:00:00+0000")
    with nothing_written():
        stale = move(desk, booking, "2026-03-04T15:00:00+0000", version=1)
    assert stale.status_code == 409
    assert "Look where it is now, then pick again." in stale.context["error"]
    assert move(desk, booking, "2026-03-04T15:00:00+0000", version=2).status_code == 302


@pytest.mark.parametrize("version", ["", "x", "-1", "\x00"])
def test_moving_without_a_version(diary: Cast, desk: Client, version: str) -> None:
    booking = book(diary, at(9))
    with nothing_written():
        answer = move(desk, booking, "2026-03-04T14:00:00+0000", version=version)  # type: ignore[arg-type]
    assert answer.status_code in {409, 422}


def test_queries_do_not_grow_with_the_diary(diary: Cast, desk: Client) -> None:
    look(desk, diary.patient)
    counts = []
    for visits in (1, 12):
        while diary.fernbrook.bookings.count() < visits:
            number = diary.fernbrook.bookings.count()
            start = at(9 + number // 2) + timedelta(days=1)
            book(diary, start, patient=another_patient(diary, number), tell=False)
        with CaptureQueriesContext(connection) as asked:
            look(desk, diary.patient)
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert counts[0] <= 30
