"""Where another visit such as this one is booked: on the page of the room whose visit it is, or in the diary itself."""

from collections.abc import Callable
from urllib.parse import urlencode

from django.urls import reverse

from clinic.diary.models import Booking

# Gives the address of the page that finds the times of this visit, or None for a visit that is not this room's.
Page = Callable[[Booking], str | None]
_pages: list[Page] = []


def register(page: Page) -> None:
    if page not in _pages:
        _pages.append(page)


def url(booking: Booking) -> str:
    return next((found for ask in _pages if (found := ask(booking)) is not None), None) or _of_the_diary(booking)


def _of_the_diary(booking: Booking) -> str:
    asked = {
        "visit_type": booking.visit_type_id,
        "cycles": booking.agreed_cycles or "",
        "light_kind": booking.light_kind,
    }
    query = urlencode({name: value for name, value in asked.items() if value})
    return f"{reverse('find_time', args=[booking.patient_id])}?{query}"
