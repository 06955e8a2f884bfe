"""Run as a program in a demo of its own: loads the invented practice and prints what it holds as JSON.

`python -m tests.whitening.demo.loading SEED DAY [PAST AHEAD…]`: all of it, or so many past cases and these ahead.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
from collections import Counter
from datetime import date, datetime, time, timedelta
from io import StringIO
from zoneinfo import ZoneInfo

import django

django.setup()

from django.core.management import CommandError, call_command  # noqa: E402

from clinic.accounts.models import Site  # noqa: E402
from clinic.diary.models import COMING, Booking, Closure, ClosureKind, Status  # noqa: E402
from clinic.diary.reading import bookings_on  # noqa: E402
from clinic.messages import kinds  # noqa: E402
from clinic.messages.models import Call, DueMessage, State  # noqa: E402
from clinic.messages.paper import write_sheet  # noqa: E402
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail.models import TrailEntry  # noqa: E402
from whitening.casebook.facts import stages_of  # noqa: E402
from whitening.cases.models import Case, ShadeReading  # noqa: E402
from whitening.chairside.models import Session  # noqa: E402
from whitening.demo.world.load import AHEAD, PAST_CASES, load  # noqa: E402
from whitening.recall.models import Escalation, FollowUp, Reply, Review  # noqa: E402

ZONE = ZoneInfo("Europe/London")  # the invented practice's


def refused() -> str:
    try:
        call_command("load_demo")
    except CommandError as error:
        return str(error)
    return "loaded twice"


def verified() -> str:
    """The verdict alone: digests and real times differ from one run to the next."""
    said = StringIO()
    call_command("trail_seal", stdout=said)
    call_command("trail_verify", stdout=said)
    return said.getvalue().strip().splitlines()[-1]


def letters(site: Site, *, now: datetime) -> list[str]:
    """What waits to be printed, as the sheet will say it."""
    sheets = []
    for call in Call.objects.to_print(now=now).filter(site=site).select_related("message", "patient"):
        kind = kinds.registered()[call.message.kind]
        subject = kind.load(call.message.subject_id)
        sheets.append(write_sheet(kind, subject, call.message, call.patient, now=now).html)
    return sheets


def main(seed: int, today: date, past_cases: int, ahead: list[str]) -> None:
    noon = datetime.combine(today, time(12), tzinfo=ZONE)
    house = load(seed=seed, today=today, say=lambda _words: None, past_cases=past_cases, ahead=ahead, until=noon)
    stages = stages_of(Case.objects.values_list("pk", flat=True))
    fortnight = [day for number in range(14) for day in bookings_on(house.site, today + timedelta(days=number))]
    house_day = datetime.combine(today, time(0), tzinfo=house.site.zone)
    holidays = list(Closure.objects.filter(site=house.site, kind=ClosureKind.HOLIDAY).order_by("starts_at"))
    seen = {
        "patients": list(Patient.objects.order_by("pk").values_list("name", flat=True)),
        "visits": [f"{row.wall_on} {row.wall_time:%H:%M} {row.status}" for row in Booking.objects.order_by("pk")],
        "shades": list(ShadeReading.objects.order_by("pk").values_list("tab", flat=True)),
        "stages": Counter(stage.value for stage in stages.values()),
        "follow_ups": Counter(FollowUp.objects.values_list("state", flat=True)),
        "replies": [reply.answers for reply in Reply.objects.order_by("pk")],
        "reviews": Review.objects.count(),
        "missed": DueMessage.objects.filter(state=State.MISSED).count(),
        "late": DueMessage.objects.open().filter(due_at__lt=noon).count(),
        "lapses_late": Booking.objects.filter(status=Status.PROPOSED, lapses_at__lt=noon).count(),
        "calls_open": Call.objects.to_make(now=house_day).count(),
        "letters": letters(house.site, now=house_day),
        "worries_open": [str(one.raised_at.date()) for one in Escalation.objects.open()],
        "worries": Escalation.objects.count(),
        "messages": Counter(DueMessage.objects.values_list("kind", flat=True)),
        "verbs": Counter(TrailEntry.objects.values_list("verb", flat=True)),
        "ahead": len(fortnight),
        "long_past": [
            f"{row.wall_time:%H:%M} {row.status}"
            for row in bookings_on(house.site, today)
            if row.ends_at < noon and row.status in COMING
        ],
        "treated_today": Session.objects.filter(closed_at__gte=house_day, closed_at__lte=noon).count(),
        "today": len(bookings_on(house.site, today)),
        "holidays": [f"{one.reason} {one.starts_at.astimezone(house.site.zone):%d %b}" for one in holidays],
        "on_a_holiday": sum(Booking.objects.between(one.starts_at, one.ends_at).count() for one in holidays),
        "from_the_future": FollowUp.objects.filter(planned_at__gt=noon).count(),
        "again": refused(),
        "verified": verified(),
    }
    json.dump(seen, sys.stdout)


if __name__ == "__main__":
    given = sys.argv[1:]
    main(
        int(given[0]),
        date.fromisoformat(given[1]),
        int(given[2]) if len(given) > 2 else PAST_CASES,
        given[3:] or list(AHEAD),
    )
