"""The aftercare sheet of a session: issued once it is closed, and at the latest when somebody asks for it."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.documents import actions as documents
from clinic.documents import kinds, larger, qr
from clinic.documents.models import IssuedDocument
from clinic.documents.models.issued import IssuedDocumentQuerySet
from clinic.messages import links, purposes
from clinic.trail.actor import Actor
from whitening.chairside.models import Session
from whitening.recall.aftercare_facts import facts_of
from whitening.recall.kinds import HOW_ARE_YOU

KIND = "aftercare"


def issued(session: Session, *, now: datetime, is_large: bool = False) -> IssuedDocument | None:
    """The newest in that size; not one that an entry has made untrue which came in after it."""
    found = _sheets(session).filter(large_print=is_large).order_by("-issued_at", "-pk").first()
    if found is None or not session.events.filter(recorded_at__gt=found.issued_at).exists():
        return found
    said = _said(session, now=now, is_large=is_large)
    return found if found.words_sha256 == _words_of(said) else None


def sheet_of(session: Session, *, actor: Actor, now: datetime, is_large: bool = False) -> IssuedDocument:
    """The sheet that was issued in that size, or a new one. Its QR code only writes and shows no record.

    Raises RenderFailed when the sheet cannot be drawn; nothing is kept then and asking again tries again.
    """
    found = issued(session, now=now, is_large=is_large)
    if found is not None:
        return found
    url = _address(session, actor=actor, now=now)
    said = _said(session, now=now, is_large=is_large)
    digest = _words_of(said)
    said["context"] = {**said["context"], "address": url, "qr": qr.as_picture(url)}
    return documents.issue(**said, subject=("session", session.pk), actor=actor, words_sha256=digest)


def _said(session: Session, *, now: datetime, is_large: bool) -> documents.Said:
    case = session.case
    return {
        "kind": KIND,
        "patient": case.patient,
        "site": case.site,
        "context": {"facts": facts_of(session, closed_at=session.closed_at or now, now=now)},
        "language": case.patient.language,
        "title": _("After your visit"),
        "now": now,
        "large_print": is_large,
    }


def _words_of(said: documents.Said) -> str:
    """Of each sheet the address is another one."""
    undirected = said.copy()
    undirected["context"] = {**said["context"], "address": "", "qr": ""}
    return documents.words_of(**undirected)


def _sheets(session: Session) -> IssuedDocumentQuerySet:
    return IssuedDocument.objects.about(("session", session.pk)).filter(kind=KIND)


def _address(session: Session, *, actor: Actor, now: datetime) -> str:
    """Of a printed link. One on a sheet that was given out already stays good; one of a sheet that failed ends."""
    make = links.make if _sheets(session).exists() else links.issue
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


def _leads_somewhere(document: IssuedDocument, now: datetime) -> bool:
    """One that was drawn large is given again; a new one carries a link, and its page has to be open for it."""
    session_id = int(document.subject_id)
    drawn = IssuedDocument.objects.about(("session", session_id)).filter(kind=KIND, large_print=True)
    return purposes.get(HOW_ARE_YOU).window(session_id, now) is not None or drawn.exists()


def register() -> None:
    kinds.register(
        kinds.DocumentKind(
            code=KIND, word=_("aftercare sheet"), clinical=False, template="documents/aftercare.html", version=2
        )
    )
    larger.register(KIND, _larger, possible=_leads_somewhere)
