"""A patient's visit to the private pages: from the exchanged link to the date of birth and the code.

A visit, its code and their tries go by real time, so that the demo's clock cannot stretch them.
"""

import secrets
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext_lazy as _

from clinic.messages import links
from clinic.messages.models import TRIES, Ended, LinkVisit, PrivateLink
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal

LASTS = timedelta(hours=2)
CODE_LASTS = timedelta(minutes=10)
CODES_A_VISIT = 3
CODES_A_DAY = 10
CODE_DIGITS = 6
# A column that says who did something holds so much of a name; a name itself may be longer.
NAME_KEPT = 120
# Longer than the day over which codes are counted, so that clearing gives nobody new tries.
KEPT_AFTER = timedelta(days=2)


class WrongBirthDate(Refusal):
    code = "messages.wrong_birth_date"
    sentence = _(
        "That is not the date of birth we have for this page. Check day, month and year. Tries left: %(left)s."
    )


class BirthDateChanged(Refusal):
    code = "messages.birth_date_changed"
    sentence = _(
        "We had that date of birth when you opened this page, and have corrected it since. Type it as it is now; this "
        "try does not count. If yours is right, please call us."
    )


class LinkDead(Refusal):
    code = "messages.link_dead"
    sentence = _("This page has closed after five wrong dates of birth. Please call us.")


class WrongCode(Refusal):
    code = "messages.wrong_code"
    sentence = _("That is not the code we sent. Look at the newest message. Tries left: %(left)s.")


class CodeDead(Refusal):
    code = "messages.code_dead"
    sentence = _("This code can no longer be used. Ask for a new one below.")


class TooManyCodes(Refusal):
    code = "messages.too_many_codes"
    sentence = _("No more codes can be sent for this page today. Please call us.")


def cookie_name() -> str:
    return "casebook_patient" if settings.PLAIN_HTTP else "__Host-casebook-patient"


def patient_actor(link: PrivateLink) -> Actor:
    return Actor(kind="patient", id=str(link.patient_id), name=link.patient.name[:NAME_KEPT])


def begin(*, link: PrivateLink, real_now: datetime) -> tuple[LinkVisit, str]:
    """A visit and the secret for its cookie, which is known only now."""
    secret = links.new_secret()
    with transaction.atomic():
        visit = LinkVisit.objects.create(
            link=link, key_hash=links.hashed(secret), began_at=real_now, expires_at=real_now + LASTS
        )
        _note(visit, "messages.link_opened")
    return visit, secret


def begin_on_tablet(*, link: PrivateLink, staff: Actor, real_now: datetime) -> tuple[LinkVisit, str]:
    """Staff who know the patient hand over the practice's own tablet: they vouch for who holds it."""
    with transaction.atomic():
        visit, secret = begin(link=link, real_now=real_now)
        visit.known_at = visit.code_passed_at = real_now
        visit.save(update_fields=["known_at", "code_passed_at"])
        _note(visit, "messages.recognised", actor=staff, how="in person")
    return visit, secret


def give_cookie(response: HttpResponse, secret: str) -> None:
    response.set_cookie(
        cookie_name(),
        secret,
        max_age=LASTS,
        path="/",
        secure=not settings.PLAIN_HTTP,
        httponly=True,
        samesite="Lax",
    )


def current(request: HttpRequest, *, real_now: datetime) -> LinkVisit | None:
    secret = request.COOKIES.get(cookie_name())
    if not secret:
        return None
    visits = LinkVisit.objects.select_related("link__patient", "link__site__practice", "opened_for")
    return visits.filter(key_hash=links.hashed(secret), expires_at__gt=real_now).first()


def forget_old(*, real_now: datetime) -> None:
    """Ended visits open nothing; what was done during them stands in the trail."""
    LinkVisit.objects.filter(expires_at__lte=real_now - KEPT_AFTER).delete()


def check_birth_date(*, visit: LinkVisit, birth_on: date, now: datetime, real_now: datetime) -> None:
    """Raises WrongBirthDate, or LinkDead with the fifth wrong one. Every wrong try counts, over all visits.

    Raises BirthDateChanged for the one that held when this page was opened, and that joining has corrected since. It
    opens nothing, since the pages may show what was said under the other record. It counts for nothing either: it is
    one date alone, which whoever has it knew already, so nobody gets a try more at guessing the one that holds.
    """
    link = visit.link
    if birth_on != link.patient.birth_on and visit.opened_for is not None and birth_on == visit.opened_for.birth_on:
        raise BirthDateChanged
    left = _count_birth_try(visit, right=link.patient.birth_on == birth_on, now=now)
    if left is None:
        with transaction.atomic():
            LinkVisit.objects.filter(pk=visit.pk, known_at=None).update(known_at=real_now)
            _note(visit, "messages.recognised", how="date of birth")
        return
    if left <= 0:
        raise LinkDead
    raise WrongBirthDate(left=left)


def _count_birth_try(visit: LinkVisit, *, right: bool, now: datetime) -> int | None:
    """None when the date is right; else the tries left. Counted before it is told, in one statement."""
    link = visit.link
    with transaction.atomic():
        alive = PrivateLink.objects.filter(pk=link.pk, ended_at=None, birth_tries__lt=TRIES)
        if not (alive.exists() if right else alive.update(birth_tries=F("birth_tries") + 1)):
            return 0
        if right:
            return None
        link.refresh_from_db(fields=["birth_tries"])
        _note(visit, "messages.birth_date_wrong", tries=link.birth_tries)
        if link.birth_tries >= TRIES:
            links.end_link(link, because=Ended.BIRTH_TRIES, now=now, actor=patient_actor(link))
    return TRIES - link.birth_tries


def count_code_request(*, visit: LinkVisit, real_now: datetime) -> int:
    """Raises TooManyCodes; returns which code of this visit it is. Inside the caller's transaction."""
    today = LinkVisit.objects.filter(link=visit.link_id, began_at__gt=real_now - timedelta(days=1))
    asked = sum(today.values_list("codes_asked", flat=True))
    free = LinkVisit.objects.filter(pk=visit.pk, codes_asked__lt=CODES_A_VISIT)
    if asked >= CODES_A_DAY or not free.update(codes_asked=F("codes_asked") + 1):
        raise TooManyCodes
    visit.refresh_from_db(fields=["codes_asked"])
    return visit.codes_asked


def new_code(*, visit: LinkVisit, real_now: datetime) -> str:
    """Made at the moment it is sent; only its keyed hash is kept. An earlier one stops working."""
    code = f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
    LinkVisit.objects.filter(pk=visit.pk).update(code_hash=_code_hash(visit, code), code_made_at=real_now, code_tries=0)
    return code


def check_code(*, visit: LinkVisit, code: str, real_now: datetime) -> None:
    """Raises WrongCode or CodeDead. The try is counted before the code is compared."""
    alive = LinkVisit.objects.filter(pk=visit.pk, code_tries__lt=TRIES, code_made_at__gt=real_now - CODE_LASTS)
    if not alive.exclude(code_hash="").update(code_tries=F("code_tries") + 1):
        raise CodeDead
    visit.refresh_from_db(fields=["code_hash", "code_tries"])
    if not constant_time_compare(visit.code_hash, _code_hash(visit, code)):
        if visit.code_tries >= TRIES:
            raise CodeDead
        raise WrongCode(left=TRIES - visit.code_tries)
    with transaction.atomic():
        LinkVisit.objects.filter(pk=visit.pk).update(code_passed_at=real_now, code_hash="")
        _note(visit, "messages.code_passed")


def _code_hash(visit: LinkVisit, code: str) -> str:
    # Keyed: six digits alone could be found from a plain hash in a moment.
    return salted_hmac("clinic.messages.code", f"{visit.pk} {code}", algorithm="sha256").hexdigest()


def _note(visit: LinkVisit, verb: str, *, actor: Actor | None = None, **values: object) -> None:
    link = visit.link
    record(
        verb=verb,
        actor=actor or patient_actor(link),
        subject=("private_link", link.pk),
        patient_id=link.patient_id,
        site_id=link.site_id,
        values={"purpose": link.purpose} | values,
    )
