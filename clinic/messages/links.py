"""The life of a private link: 256 bits of which only the hash is kept, a window, an end."""

import hashlib
import secrets
from collections.abc import Callable, Mapping
from datetime import datetime

from django.conf import settings
from django.db import connection, transaction
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site
from clinic.messages import purposes
from clinic.messages.models import Ended, PrivateLink
from clinic.patients.models import Patient
from clinic.trail.actor import SYSTEM, Actor
from clinic.trail.readymade import Blank, Statement, in_places, insert_numbered, once, write_new
from clinic.trail.record import About, noting, record, record_with
from clinic.trail.refusals import Refusal

TOKEN_BYTES = 32
_ALIKE = ("purpose", "subject_kind", "subject_id", "write_only")


class NumbersMissing(Refusal):
    code = "messages.numbers_missing"
    sentence = _(
        "No link can go out yet: enter the telephone and the emergency, poison-advice and out-of-hours numbers of "
        "%(site)s in Set-up."
    )


class PurposeDone(Refusal):
    code = "messages.purpose_done"
    sentence = _("There is nothing left to open a page for. Look at the case: this step is done or its time is over.")


def hashed(secret: str) -> str:
    """Enough for a random secret of 256 bits: there is nothing to guess, so nothing to slow down."""
    return hashlib.sha256(secret.encode()).hexdigest()


def new_secret() -> str:
    return secrets.token_urlsafe(TOKEN_BYTES)


def make(
    *,
    purpose: str,
    subject_id: int,
    patient: Patient,
    site: Site,
    now: datetime,
    write_only: bool = False,
    actor: Actor = SYSTEM,
) -> tuple[PrivateLink, str]:
    """A new link and its address, which is known only now. Older ones live on until `keep_only` is called."""
    link, url = draw(purpose=purpose, subject_id=subject_id, patient=patient, site=site, now=now, write_only=write_only)
    keep(link, actor=actor)
    return link, url


def draw(
    *,
    purpose: str,
    subject_id: int,
    patient: Patient,
    site: Site,
    now: datetime,
    write_only: bool = False,
    window: Callable[[], purposes.Window | None] | None = None,
    number: int | None = None,
) -> tuple[PrivateLink, str]:
    """As `make`, but nobody can open it before it is kept.

    `window` is asked in place of the purpose's own, by whoever holds its subject already. `number`: its key, where one
    was taken ahead.
    """
    if not site.can_send_links:
        raise NumbersMissing(site=site.name)
    known = purposes.get(purpose)
    opened = known.window(subject_id, now) if window is None else window()
    if opened is None or opened.closes_at <= now:
        raise PurposeDone
    token = new_secret()
    link = PrivateLink(
        pk=number,
        site=site,
        patient=patient,
        purpose=purpose,
        subject_kind=known.subject_kind,
        subject_id=subject_id,
        token_hash=hashed(token),
        write_only=write_only,
        made_at=now,
        opens_at=opened.opens_at,
        closes_at=opened.closes_at,
    )
    return link, address(token, route=known.route)


def keep(*drawn: PrivateLink, actor: Actor = SYSTEM) -> None:
    """All or none. One that has its number is kept with its entry in one statement."""
    numbers: list[int | None] = [link.pk for link in drawn]
    if len(numbers) == 1 and numbers[0] is not None and connection.vendor == "postgresql":
        [link] = drawn
        about = _told(link, _open_words(link))
        record_with(_kept(), in_places(link), verb="messages.link_made", actor=actor, **about)
        return
    with transaction.atomic():
        for link in drawn:
            write_new(link)
            _note(link, verb="messages.link_made", actor=actor, **_open_words(link))


@once
def _kept() -> Statement:
    return noting(insert_numbered(PrivateLink))


def _open_words(link: PrivateLink) -> dict[str, object]:
    return {"opens_at": link.opens_at, "closes_at": link.closes_at}


def issue(
    *,
    purpose: str,
    subject_id: int,
    patient: Patient,
    site: Site,
    now: datetime,
    write_only: bool = False,
    actor: Actor = SYSTEM,
) -> tuple[PrivateLink, str]:
    """A link for use at once (printed as a QR code, opened on the tablet): the older ones end here."""
    link, url = make(
        purpose=purpose,
        subject_id=subject_id,
        patient=patient,
        site=site,
        now=now,
        write_only=write_only,
        actor=actor,
    )
    keep_only(link, now=now, actor=actor)
    return link, url


def keep_only(link: PrivateLink, *, now: datetime, actor: Actor = SYSTEM) -> None:
    """Ends every other link of the same purpose and subject; a printed one and a sent one live side by side."""
    alike = {name: getattr(link, name) for name in _ALIKE}
    for one in PrivateLink.objects.filter(ended_at=None, **alike).exclude(pk=link.pk):
        end_link(one, because=Ended.NEWER, now=now, actor=actor)


def others_alike() -> QuerySet[PrivateLink]:
    """Those that `keep_only` would end, for a statement that is made once: `known_by` fills it in."""
    field = PrivateLink._meta.get_field
    alike = {name: Blank(f"link_{name}", field(name)) for name in _ALIKE}
    return PrivateLink.objects.filter(ended_at=None, **alike).exclude(pk=Blank("link_id", field("id"))).order_by()


def known_by(link: PrivateLink) -> dict[str, object]:
    return {f"link_{name}": getattr(link, name) for name in ("id", *_ALIKE)}


def end(*, purpose: str, subject_id: int, now: datetime, actor: Actor, because: Ended = Ended.DONE) -> int:
    """The purpose is done: none of its links opens any more. Returns how many ended."""
    known = purposes.get(purpose)
    rows = PrivateLink.objects.filter(
        purpose=purpose, subject_kind=known.subject_kind, subject_id=subject_id, ended_at=None
    )
    return sum(end_link(link, because=because, now=now, actor=actor) for link in rows)


def end_link(link: PrivateLink, *, because: Ended, now: datetime, actor: Actor = SYSTEM) -> bool:
    """False when somebody else was quicker."""
    changed = PrivateLink.objects.filter(pk=link.pk, ended_at=None).update(ended_at=now, ended_because=because)
    if changed:
        _note(link, verb="messages.link_ended", actor=actor, because=because)
    return bool(changed)


def by_token(token: str) -> PrivateLink | None:
    return PrivateLink.objects.select_related("patient", "site__practice").filter(token_hash=hashed(token)).first()


def address(token: str, *, route: str) -> str:
    return f"{settings.PUBLIC_URL}{reverse(route, args=[token])}"


def example_address() -> str:
    """As long as a real one, and open to nobody."""
    return address("x" * len(new_secret()), route="private_link")


def _note(link: PrivateLink, *, verb: str, actor: Actor, **values: object) -> None:
    record(verb=verb, actor=actor, **_told(link, values))


def _told(link: PrivateLink, values: Mapping[str, object]) -> About:
    return {
        "subject": ("private_link", link.pk),
        "patient_id": link.patient_id,
        "site_id": link.site_id,
        "values": {"purpose": link.purpose, "about": f"{link.subject_kind} {link.subject_id}", **values},
    }
