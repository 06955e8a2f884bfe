"""Run as a program of its own in the environment of the storm: `fill`, `look`, `open`, `later`; answers in JSON."""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
from collections.abc import Callable
from datetime import timedelta

import django

django.setup()

from django.db.models import F  # noqa: E402  (models exist only now)

from clinic.accounts.models import User  # noqa: E402
from clinic.messages.astray import astray  # noqa: E402
from clinic.messages.kinds import registered  # noqa: E402
from clinic.messages.models import Call, DueMessage  # noqa: E402
from clinic.trail.clock import real_now  # noqa: E402
from scripts.chaos import people  # noqa: E402

HOUR = timedelta(hours=1)


def fill(count: str, spread: str, hurried: str) -> None:
    people.fill(count=int(count), spread_seconds=float(spread), hurried_seconds=float(hurried), start_at=real_now())


def look() -> list[dict[str, object]]:
    """Each row as the table has it, and whether whoever sees to messages has it on their list."""
    desk = User.objects.get(email="dana@example.org")
    listed = {message.pk for message in astray(desk)}
    listed |= {call.message_id for call in Call.objects.visible_to(desk).open()}
    known = registered()
    return [
        {
            "pk": row.pk,
            "message_id": row.message_id,
            "state": row.state,
            "may_go_twice": known[row.kind].resend_uncertain,
            "not_after": row.not_after.timestamp(),
            "settled": row.settled_at.timestamp() if row.settled_at else None,
            "is_listed": row.pk in listed,
        }
        for row in DueMessage.objects.order_by("pk")
    ]


def still_open() -> dict[str, int]:
    """How many are due and not settled; how many of these no lease holds back from the next sweep."""
    now = real_now()
    waiting = DueMessage.objects.open().filter(due_at__lte=now)
    held = waiting.filter(lease_until__gt=now)
    return {"open": waiting.count(), "free": waiting.count() - held.count()}


def later() -> int:
    """As if an hour had gone by: for leases and for what waits to be tried again. Nobody may hold a row meanwhile."""
    return DueMessage.objects.exclude(lease_until=None).update(lease_until=F("lease_until") - HOUR)


def main(command: str, *words: str) -> None:
    commands: dict[str, Callable[..., object]] = {"fill": fill, "look": look, "open": still_open, "later": later}
    json.dump(commands[command](*words), sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
