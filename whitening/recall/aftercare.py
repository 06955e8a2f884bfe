"""The aftercare sheet of a session: issued once it is closed, and at the latest when somebody asks for it."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.documents import actions as documents
from clinic.documents import qr
from clinic.documents.models import IssuedDocument
from clinic.messages import links
from clinic.trail.actor import Actor
from whitening.chairside.models import Session
from whitening.recall.kinds import HOW_ARE_YOU

KIND = "aftercare"


def issued(session: Session) -> IssuedDocument | None:
    rows = IssuedDocument.objects.filter(kind=KIND, subject_kind="session", subject_id=str(session.pk))
    return rows.order_by("-issued_at", "-pk").first()


def sheet_of(session: Session, *, actor: Actor, now: datetime) -> IssuedDocument:
    """The sheet that was issued, or a new one. Its QR code only writes: it answers the check and shows no record.

    Raises RenderFailed when the sheet cannot be drawn; nothing is kept then and asking again tries again.
    """
    found = issued(session)
    if found is not None:
        return found
    case = session.case
    # A sheet that then cannot be drawn leaves a link that nobody was given; the next try ends it.
    with transaction.atomic():
        _link, url = links.issue(
            purpose=HOW_ARE_YOU,
            subject_id=session.pk,
            patient=case.patient,
            site=case.site,
            now=now,
            write_only=True,
            actor=actor,
        )
    return documents.issue(
        kind=KIND,
        patient=case.patient,
        site=case.site,
        context={"session": session, "address": url, "qr": qr.as_picture(url), "closed_at": session.closed_at},
        language=case.patient.language,
        title=_("After your visit"),
        subject=("session", session.pk),
        actor=actor,
        now=now,
    )
