"""What happened to one booking, from the trail: every step, who took it and when; the newest first."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import groupby

from django.utils.translation import gettext as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import clock_words, day_words
from clinic.diary.models import Booking, Why
from clinic.trail.actor import SYSTEM
from clinic.trail.erasure import Unreadable, payload_of
from clinic.trail.models import TrailEntry

MOST = 60  # more steps of one visit than anybody reads


@dataclass(frozen=True, slots=True)
class Step:
    at: datetime
    actor_name: StrOrPromise
    sentence: str


@dataclass(frozen=True, slots=True)
class Day:
    """A local day of the site."""

    on: date
    entries: Sequence[Step]


def history(booking: Booking) -> list[Day]:
    """One query. What was erased keeps its step and loses its details."""
    rows = TrailEntry.objects.about("booking", booking.pk).order_by("-pk")[:MOST]
    by_day = groupby((_step(row) for row in rows), key=lambda one: one.at.astimezone(booking.site.zone).date())
    return [Day(on, list(steps)) for on, steps in by_day]


def _step(row: TrailEntry) -> Step:
    details = ", ".join(_details(row))
    sentence = str(row.sentence)
    if details:
        sentence = _("%(sentence)s: %(name)s") % {"sentence": sentence, "name": details}
    return Step(row.happened_at, _who(row), sentence)


def _who(row: TrailEntry) -> StrOrPromise:
    if row.actor_kind == "patient":
        return _("the patient, by link")
    return row.actor_name or SYSTEM.name


def _details(row: TrailEntry) -> Iterator[str]:
    payload = payload_of(row)
    values = {} if isinstance(payload, Unreadable) else payload.get("values")
    if not isinstance(values, dict):
        return
    if values.get("wall_on") and values.get("wall_time"):
        on, at = date.fromisoformat(str(values["wall_on"])), time.fromisoformat(str(values["wall_time"]))
        yield f"{day_words(on)}, {clock_words(at)}"
    if values.get("why") in Why.values and values["why"]:
        yield str(Why(str(values["why"])).label)
    if values.get("here_at"):
        yield _late(values)
    if values.get("reason"):
        yield str(values["reason"])


def _late(values: Mapping[str, object]) -> str:
    here_at = clock_words(time.fromisoformat(str(values["here_at"])))
    if not values.get("cycles_agreed"):
        return _("here at %(time)s") % {"time": here_at}
    left = {"time": here_at, "cycles": values.get("cycles"), "agreed": values["cycles_agreed"]}
    return _("here at %(time)s, %(cycles)s of %(agreed)s cycles") % left
