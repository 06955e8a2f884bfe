"""The diary's page as the front desk asks for it, and a page of fifty rows behind the same door."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from benchmarks import crowd

if TYPE_CHECKING:
    from django.test import Client

    from benchmarks.diary import House

ROWS = 50
_ROWS = """<!doctype html><title>rows</title><table>{% for one in rows %}
<tr><td>{{ one.starts_at }}</td><td>{{ one.patient.name }}</td><td>{{ one.status }}</td></tr>{% endfor %}</table>"""


@dataclass(frozen=True, slots=True)
class Visitor:
    use: Callable[[], Any]
    client: "Client"

    def day(self) -> None:
        self._get(f"/diary/{crowd.TODAY + timedelta(days=crowd.PAGE_DAY)}/")

    def rows(self) -> None:
        self._get("/rows/")

    def queries(self) -> int:
        from django.test.utils import CaptureQueriesContext  # noqa: PLC0415

        with CaptureQueriesContext(self.use()) as asked:
            self.day()
        return len(asked)

    def _get(self, path: str) -> None:
        self.use()
        answer = self.client.get(path)
        assert answer.status_code == 200, f"{path} answers {answer.status_code}"


def visitor(house: "House") -> Visitor:
    from tests.cast import sign_in  # noqa: PLC0415  (Django is set up by now)

    house.use()
    _mount()
    return Visitor(house.use, sign_in(house.cast.desk))


def _mount() -> None:
    """One more address, in the benchmark only."""
    from django.http import HttpRequest, HttpResponse  # noqa: PLC0415
    from django.template import engines  # noqa: PLC0415
    from django.urls import path  # noqa: PLC0415

    from clinic.accounts.doors import staff  # noqa: PLC0415
    from clinic.accounts.rights import Capability  # noqa: PLC0415
    from clinic.config import urls  # noqa: PLC0415
    from clinic.diary.models import Booking  # noqa: PLC0415

    template = engines["django"].from_string(_ROWS)

    @staff(Capability.DIARY_READ)
    def rows(_request: HttpRequest) -> HttpResponse:
        found = Booking.objects.select_related("patient").order_by("pk")[:ROWS]
        return HttpResponse(template.render({"rows": found}))

    if not any(str(one.pattern) == "rows/" for one in urls.urlpatterns):
        urls.urlpatterns.insert(0, path("rows/", rows))


def fill_page_day(house: "House") -> None:
    """Whole visits with a room and a clinician, one after the other."""
    from benchmarks.diary import instant  # noqa: PLC0415
    from clinic.diary.models import Booking, ResourceClaim  # noqa: PLC0415

    rooms, people = house.kinds["room"], house.kinds["clinician"]
    site, opens_at = house.cast.fernbrook, instant(crowd.PAGE_DAY) + timedelta(minutes=crowd.FROM)
    for number in range(crowd.VISITS_OF_PAGE):
        round_, place = divmod(number, len(rooms))
        start_at = opens_at + timedelta(minutes=45 * round_)
        end_at = start_at + timedelta(minutes=45)
        booking = Booking.objects.create(
            site=site,
            patient_id=number + 1,
            visit_type=house.visit_type,
            status="booked",
            wall_on=start_at.date(),
            wall_time=start_at.time(),
            zone="UTC",
            starts_at=start_at,
            ends_at=end_at,
            booked_at=opens_at,
            booked_by="crowd",
        )
        for need, resource in (("room", rooms[place]), ("clinician", people[place])):
            ResourceClaim.objects.create(
                booking=booking, resource_id=resource, need=need, segment="all", start_at=start_at, end_at=end_at
            )
