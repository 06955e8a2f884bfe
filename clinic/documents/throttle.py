"""How often one source may ask at a public door: counted in the database, by real time."""

from datetime import UTC, datetime, timedelta

from django.conf import settings
from django.db.models import F
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from clinic.documents.failures import TooManyChecks
from clinic.documents.models import CheckTries

STRETCH = timedelta(minutes=10)
MOST = 20
_KEPT = timedelta(days=1)


def count_try(*, source: str, now: datetime, most: int = MOST) -> None:
    """One conditional UPDATE, so that tries at the same moment are all counted. Raises TooManyChecks."""
    since = _stretch(now)
    if _counted(source, since, most):
        return
    _, is_first = CheckTries.objects.get_or_create(source=source, since=since)
    if is_first:
        CheckTries.objects.filter(since__lt=since - _KEPT).delete()
    elif not _counted(source, since, most):
        raise TooManyChecks(minutes=STRETCH // timedelta(minutes=1))


def source_of(request: HttpRequest, *, door: str = "clinic.documents.check") -> str:
    """A keyed digest of the caller's address; behind our proxies, of the address they saw. Each door counts alone."""
    address = request.META.get("REMOTE_ADDR", "")
    hops = settings.ALLAUTH_TRUSTED_PROXY_COUNT
    forwarded = [part.strip() for part in request.headers.get("X-Forwarded-For", "").split(",") if part.strip()]
    if hops and len(forwarded) >= hops:
        address = forwarded[-hops]
    return digest_of(address, door=door)


def digest_of(caller: str, *, door: str) -> str:
    return salted_hmac(door, caller, algorithm="sha256").hexdigest()


def _counted(source: str, since: datetime, most: int) -> bool:
    within = CheckTries.objects.filter(source=source, since=since, tries__lt=most)
    return within.update(tries=F("tries") + 1) == 1


def _stretch(now: datetime) -> datetime:
    epoch = datetime(2000, 1, 1, tzinfo=UTC)
    return now - (now - epoch) % STRETCH
