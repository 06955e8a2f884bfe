"""Today lists the visits outside working time, each with a way to move it, in a bounded number of queries."""

import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.diary.models import Booking, Closure
from tests.cast import NOW, Cast, sign_in
from tests.clinic.diary.house import another_patient, at, book, furnish


@time_machine.travel(NOW, tick=False)
def test_visits_outside_working_time_stand_on_today(cast: Cast) -> None:
    furnish(cast)
    held = [book(cast, at(9)), book(cast, at(13), patient=another_patient(cast))]
    desk, manager = sign_in(cast.desk), sign_in(cast.manager)
    assert "Visits that cannot take place as booked" not in desk.get(reverse("today")).content.decode()
    closed = Closure.objects.create(site=cast.fernbrook, kind="closed", starts_at=at(8), ends_at=at(18))
    text = desk.get(reverse("today")).content.decode()
    assert "Visits that cannot take place as booked" in text
    for booking in held:
        assert reverse("booking_move", args=[booking.pk]) in text
    # A manager reads it and moves nothing; who is in the chair already is not moved either.
    assert reverse("booking_move", args=[held[0].pk]) not in manager.get(reverse("today")).content.decode()
    Booking.objects.filter(pk=held[0].pk).update(status="checked-in")
    text = desk.get(reverse("today")).content.decode()
    assert reverse("booking", args=[held[0].pk]) in text
    assert reverse("booking_move", args=[held[0].pk]) not in text
    closed.delete()
    assert "Visits that cannot take place as booked" not in desk.get(reverse("today")).content.decode()


@time_machine.travel(NOW, tick=False)
def test_queries_of_today_do_not_grow_with_them(cast: Cast) -> None:
    furnish(cast)
    desk, counts = sign_in(cast.desk), []
    # Once a day it also looks whether the clock rules have changed.
    desk.get(reverse("today"))
    for hour in range(9, 15):
        book(cast, at(hour), patient=another_patient(cast, hour))
        book(cast, at(hour), patient=another_patient(cast, hour + 10))
        Closure.objects.create(site=cast.fernbrook, kind="closed", starts_at=at(hour), ends_at=at(hour + 1))
        with CaptureQueriesContext(connection) as queries:
            page = desk.get(reverse("today"))
        assert len(page.context["page"].outside) == 2 * (hour - 8)
        counts.append(len(queries))
    assert "2 more, later" in page.content.decode()
    assert len(set(counts)) == 1
