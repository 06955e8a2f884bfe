"""The visits on a patient's page: what stands, what was, and nothing that was only held for a call."""

import time_machine
from django.urls import reverse

from clinic.diary import actions
from clinic.diary.models import Booking
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.diary.house import another_patient, at, book, pencil, visit


def linked(cast: Cast) -> tuple[set[int], set[int]]:
    """Those that stand and those before, as the page leads to them."""
    page = sign_in(cast.desk).get(reverse("patient", args=[cast.patient.pk])).content.decode()
    standing, _words, earlier = page.partition("The last ones before")
    every = {pk: reverse("booking", args=[pk]) for pk in Booking.objects.values_list("pk", flat=True)}

    def within(text: str) -> set[int]:
        return {pk for pk, address in every.items() if f'href="{address}"' in text}

    return within(standing), within(earlier)


@time_machine.travel(NOW, tick=False)
def test_the_desk_finds_every_visit_on_the_patients_page(diary: Cast) -> None:
    assert (
        "No visit is booked." in sign_in(diary.desk).get(reverse("patient", args=[diary.patient.pk])).content.decode()
    )
    who = actor_of(diary.desk)
    first, pencilled = book(diary, at(9)), pencil(diary, at(12))
    theirs = book(diary, at(14), patient=another_patient(diary))
    request = actions.BookingRequest(diary.patient, visit(), at(15))
    held = actions.hold(site=diary.fernbrook, request=request, actor=who, now=NOW)
    assert linked(diary) == ({first.pk, pencilled.pk, held.pk}, set())
    actions.cancel(booking=first, by="patient", reason="", actor=who, now=NOW)
    actions.let_go(booking=held, actor=who, now=NOW)
    assert linked(diary) == ({pencilled.pk}, {first.pk})
    assert theirs.patient_id != diary.patient.pk
