"""A free quarter of the diary leads over the patient to its own free times, in that room or with that person."""

from urllib.parse import urlencode

import time_machine
from django.urls import reverse

from clinic.accounts.models import Role
from clinic.diary.actions.setting_up import add_standard_visits
from clinic.diary.models import Booking
from clinic.trail.actor import SYSTEM
from tests.cast import NOW, Cast, sign_in, works_also
from tests.clinic.diary.house import DAY, another_patient, at, book, resource

AT_TEN = {"start_at": "2026-03-04T10:00:00+0000"}


@time_machine.travel(NOW, tick=False)
def test_the_quarter_is_booked_in_the_room_that_was_pressed(diary: Cast) -> None:
    patient, desk, alder = diary.patient, sign_in(diary.desk), resource("Alder")
    asked: dict[str, int | str] = {**AT_TEN, "to": alder.pk, "q": "nwosu"}
    page = desk.get(reverse("book_at"), asked)
    wish = urlencode({"from_on": DAY.isoformat(), "not_before": "10:00", "room": alder.pk})
    address = f"{reverse('find_time', args=[patient.pk])}?{wish}"
    assert address.replace("&", "&amp;") in page.content.decode()
    openings = desk.get(address).context["found"].openings.found
    assert openings[0].start_at == at(10)
    assert {one.chosen["room"].name for one in openings} == {"Alder"}
    assert desk.post(address, {"start_at": "2026-03-04T10:00:00+0000"}).status_code == 302
    made = Booking.objects.get()
    assert made.starts_at == at(10)
    assert set(made.claims.filter(need="room").values_list("resource__name", flat=True)) == {"Alder"}
    # The other room is free, but it is not the one that was pressed.
    other = another_patient(diary)
    again = f"{reverse('find_time', args=[other.pk])}?{wish}"
    assert desk.post(again, {"start_at": "2026-03-04T10:00:00+0000"}).status_code == 409
    assert Booking.objects.count() == 1


@time_machine.travel(NOW, tick=False)
def test_a_week_names_a_day_and_a_time_and_a_person_may_be_meant(diary: Cast) -> None:
    assert diary.patient.name == "Amara Nwosu"
    desk, cleo = sign_in(diary.desk), resource("Cleo Haddad")
    asked: dict[str, int | str] = {"to": cleo.pk, "day": DAY.isoformat(), "time": "10:00", "q": "nwosu"}
    page = desk.get(reverse("book_at"), asked, headers={"HX-Request": "true"})
    assert f"not_before=10%3A00&amp;person={cleo.pk}" in page.content.decode()
    assert "<html" not in page.content.decode()


@time_machine.travel(NOW, tick=False)
def test_what_names_no_quarter_is_no_page(diary: Cast) -> None:
    book(diary, at(9))
    desk, willow = sign_in(diary.desk), resource("Willow").pk
    wrong: list[dict[str, int | str]] = [
        {},
        {"to": willow},
        {"to": 0, **AT_TEN},
        {"to": willow, "day": "2026-03-04", "time": "x"},
    ]
    for asked in wrong:
        assert desk.get(reverse("book_at"), asked).status_code == 404
    past = desk.get(f"{reverse('book_at')}?to={willow}&start_at=2026-02-04T10:00:00%2B0000")
    assert "That time has passed" in past.content.decode()


@time_machine.travel(NOW, tick=False)
def test_a_patient_of_another_site_gets_the_times_of_that_site(diary: Cast) -> None:
    stranger = diary.stranger
    works_also(diary.desk, diary.alderton, Role.DESK)
    add_standard_visits(site=diary.alderton, actor=SYSTEM)
    desk = sign_in(diary.desk, screen=diary.fernbrook)
    asked: dict[str, int | str] = {**AT_TEN, "to": resource("Alder").pk, "q": "oskarsson"}
    page = desk.get(reverse("book_at"), asked).content.decode()
    address = f"{reverse('find_time', args=[stranger.pk])}?from_on={DAY.isoformat()}&not_before=10%3A00"
    assert f'href="{address.replace("&", "&amp;")}"' in page
    assert "times at Alderton" in page
    # A room of the site that the quarter was picked at would be none there.
    assert desk.get(address).status_code == 200
    assert desk.get(f"{address}&room={resource('Alder').pk}").status_code == 422
