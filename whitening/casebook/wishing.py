"""From the free times of a case to the waiting list, where none of them suits: nothing is typed twice.

A patient has one open case, so the visit that comes off the list finds it by itself (waitlist.py).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.http import QueryDict

from clinic.diary.models import WaitingWish
from clinic.diary.openings import Wanted
from clinic.diary.waitlist.reading import waiting_of
from whitening.cases.models import Case


@dataclass(frozen=True, slots=True)
class WayToList:
    """query: the wish, for the address of the list's form. wishes: what the patient waits for already, of that kind."""

    query: str
    wishes: Sequence[WaitingWish]


def way_to_list(case: Case, wanted: Wanted, *, now: datetime) -> WayToList:
    waits = waiting_of(case.patient_id, now=now).filter(visit_type=wanted.visit_type)
    return WayToList(_query(wanted), list(waits))


def _query(wanted: Wanted) -> str:
    wishes = wanted.wishes
    asked = QueryDict(mutable=True)
    asked["visit_type"] = str(wanted.visit_type.pk)
    asked.setlist("weekdays", [str(day) for day in sorted(wishes.weekdays)])
    hours = {name: f"{at:%H:%M}" for name in ("not_before", "over_by") if (at := getattr(wishes, name))}
    session = {"cycles": str(wanted.cycles), "light_kind": wanted.light_kind} if wanted.cycles else {}
    person = {"person": str(wanted.person)} if wanted.person else {}
    for name, value in {**session, **person, **hours}.items():
        asked[name] = value
    return asked.urlencode()
