"""For whatever watches the installation: green or red, with ages and counts, and nothing about anybody."""

from datetime import timedelta

from django.core.cache import cache
from django.db import DatabaseError, InterfaceError
from django.http import HttpRequest, JsonResponse

from clinic.accounts.doors import public
from clinic.messages.health import look
from clinic.trail.clock import now, real_now

RED = 503


@public(reason="a monitor has no account; the answer holds ages and counts only")
def health(request: HttpRequest) -> JsonResponse:
    try:
        seen = look(now=now(), real_now=real_now())
    except (DatabaseError, InterfaceError):
        return _answer({"status": "red", "database": "no answer"}, is_red=True)
    if not _cache_answers():
        return _answer({"status": "red", "cache": "no answer"}, is_red=True)
    body: dict[str, object] = {
        "status": "red" if seen.is_red else "green",
        "oldest_due_late_seconds": _seconds(seen.lateness),
        "seconds_since": {name: None if age is None else _seconds(age) for name, age in seen.silences.items()},
        "uncertain": seen.uncertain,
        "unread_mails": seen.unread_mails,
        "tzdata": seen.tzdata,
    }
    return _answer(body, is_red=seen.is_red)


def _cache_answers() -> bool:
    """Without it nobody can sign in, while every page of those who are in still comes."""
    try:
        cache.get("health")
    except DatabaseError:
        return False
    except Exception as error:
        if _is_of_redis(error):
            return False
        raise
    return True


def _is_of_redis(error: Exception) -> bool:
    # Its client is loaded by then if it is what failed; an installation without it never loads it.
    from redis.exceptions import RedisError  # noqa: PLC0415

    return isinstance(error, RedisError)


def _answer(body: dict[str, object], *, is_red: bool) -> JsonResponse:
    response = JsonResponse(body, status=RED if is_red else 200)
    response.headers["Cache-Control"] = "no-store"
    return response


def _seconds(age: timedelta) -> int:
    return int(age.total_seconds())
