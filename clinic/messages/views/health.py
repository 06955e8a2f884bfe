"""For whatever watches the installation: green or red, with ages and counts, and nothing about anybody."""

from datetime import timedelta

from django.http import HttpRequest, JsonResponse

from clinic.accounts.doors import public
from clinic.messages.health import look
from clinic.trail.clock import now, real_now

RED = 503


@public(reason="a monitor has no account; the answer holds ages and counts only")
def health(request: HttpRequest) -> JsonResponse:
    seen = look(now=now(), real_now=real_now())
    body = {
        "status": "red" if seen.is_red else "green",
        "oldest_due_late_seconds": _seconds(seen.lateness),
        "seconds_since": {name: None if age is None else _seconds(age) for name, age in seen.silences.items()},
        "uncertain": seen.uncertain,
        "tzdata": seen.tzdata,
    }
    response = JsonResponse(body, status=RED if seen.is_red else 200)
    response.headers["Cache-Control"] = "no-store"
    return response


def _seconds(age: timedelta) -> int:
    return int(age.total_seconds())
