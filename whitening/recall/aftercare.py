"""The aftercare sheet of a session: issued once it is closed, and at the latest when somebody asks for it."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.documents import actions as documents
from clinic.documents import kinds, larger, qr
from clinic.documents.models import IssuedDocument
from clinic.messages import links
from clinic.trail.actor import Actor
from whitening.chairside.models import Session
from whitening.recall.aftercare_facts import facts_of
from whitening.recall.kinds import HOW_ARE_YOU

KIND = "aftercare"


def issued(session: Session, *, is_large: bool = False) -> IssuedDocument | None:
    rows = IssuedDocument.objects.about(("session", session.pk)).filter(kind=KIND, large_print=is_large)
    return rows.order_by("-issued_at", "-pk").first()


def sheet_of(session: Session, *, actor: Actor, now: datetime, is_large: bool = False) -> IssuedDocument:
    """The sheet that was issued in that size, or a new one. Its QR code only writes and shows no record.

    Raises RenderFailed when the sheet cannot be drawn; nothing is kept then and asking again tries again.
    """
    found = issued(session, is_large=is_large)
    if found is not None:
        return found
    case, closed_at = session.case, session.closed_at or now
    url = _address(session, actor=actor, now=now)
    facts = facts_of(session, closed_at=closed_at, now=now)
    return documents.issue(
        kind=KIND,
        patient=case.patient,
        site=case.site,
        context={"facts": facts, "address": url, "qr": qr.as_picture(url)},
        language=case.patient.language,
        title=_("After your visit"),
        subject=("session", session.pk),
        actor=actor,
        now=now,
        large_print=is_large,
    )


def _address(session: Session, *, actor: Actor, now: datetime) -> str:
    """Of a printed link. One on a sheet that was given out already stays good; one of a sheet that failed ends."""
    is_first = issued(session) is None and issued(session, is_large=True) is None
    make = links.issue if is_first else links.make
    # A sheet that then cannot be drawn leaves a link that nobody was given; the next try ends it.
    with transaction.atomic():
        _link, url = make(
            purpose=HOW_ARE_YOU,
            subject_id=session.pk,
            patient=session.case.patient,
            site=session.case.site,
            now=now,
            write_only=True,
            actor=actor,
        )
    return url


def _larger(document: IssuedDocument, actor: Actor, now: datetime) -> IssuedDocument:
    rows = Session.objects.select_related("case__site", "case__patient", "plan")
    return sheet_of(rows.get(pk=int(document.subject_id)), actor=actor, now=now, is_large=True)


def register() -> None:
    kinds.register(
        kinds.DocumentKind(
            code=KIND, word=_("aftercare sheet"), clinical=False, template="documents/aftercare.html", version=2
        )
    )
    larger.register(KIND, _larger)
