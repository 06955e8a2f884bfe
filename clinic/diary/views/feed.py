"""The secret address that a calendar program asks again and again."""

from datetime import timedelta
from typing import NoReturn

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import get_conditional_response

from clinic.accounts.doors import public
from clinic.accounts.languages import speaking
from clinic.accounts.views import problems
from clinic.diary import feed as feeds
from clinic.diary.models import CalendarFeed
from clinic.documents.failures import TooManyChecks
from clinic.documents.throttle import STRETCH, count_try, digest_of, source_of
from clinic.messages.links import hashed
from clinic.trail.access import note_read
from clinic.trail.actor import SYSTEM
from clinic.trail.clock import now, real_now

DOOR = "clinic.diary.feed"
# In ten minutes. A program asks a few times an hour, a whole practice behind one address somewhat more often.
MOST_OF_A_FEED = 60
MOST_WRONG = 20
NOTED_EVERY = timedelta(minutes=10)


@public(reason="a calendar program cannot sign in: the secret in the address is the key, and shows no name")
def visits(request: HttpRequest, token: str) -> HttpResponse:
    # One look-up by a digest, the same for a wrong, a revoked and a right address; nothing compares secrets in steps.
    rows = CalendarFeed.objects.answering().select_related("resource__site", "resource__person", "made_by")
    feed = rows.filter(token_hash=hashed(token)).first()
    try:
        if feed is None:
            _count_wrong(request)
        count_try(source=digest_of(str(feed.pk), door=DOOR), now=real_now(), most=MOST_OF_A_FEED)
    except TooManyChecks:
        return _later(request)
    _note_fetch(feed)
    with speaking((feed.resource.person or feed.made_by).language):
        return _answer(request, feed)


def _count_wrong(request: HttpRequest) -> NoReturn:
    """By source: one who tries addresses is slowed down, and nobody else's program is."""
    count_try(source=source_of(request, door=DOOR), now=real_now(), most=MOST_WRONG)
    raise Http404


def _later(request: HttpRequest) -> HttpResponse:
    response = problems.too_many(request)
    response.headers["Retry-After"] = str(STRETCH // timedelta(seconds=1))
    return response


def _answer(request: HttpRequest, feed: CalendarFeed) -> HttpResponse:
    at = now()
    contents = feeds.read(feed, now=at)
    response = get_conditional_response(request, etag=contents.etag)
    if response is None:
        response = HttpResponse(feeds.write(contents, now=at), content_type="text/calendar; charset=utf-8")
        response.headers["Content-Disposition"] = 'inline; filename="visits.ics"'
        # Nothing left the practice with a 304, so only this is a reading.
        note_read(
            actor=SYSTEM,
            what="diary.feed",
            subject=("calendar_feed", feed.pk),
            patient_id=None,
            site_id=feed.resource.site_id,
        )
    response.headers["ETag"] = contents.etag
    # The browser's own language would be filled in.
    response.headers["Content-Language"] = translation.get_language() or ""
    # The program itself may keep it, and asks each time whether it still holds.
    response.headers["Cache-Control"] = "private, no-cache"
    return response


def _note_fetch(feed: CalendarFeed) -> None:
    at = now()
    if feed.last_fetched_at is None or abs(at - feed.last_fetched_at) >= NOTED_EVERY:
        CalendarFeed.objects.filter(pk=feed.pk).update(last_fetched_at=at)
