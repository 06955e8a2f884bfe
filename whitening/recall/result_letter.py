"""The letter to the patient about the result: with the ladder, after a session and after the review."""

from collections.abc import Sequence
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from clinic.documents import actions as documents
from clinic.documents import kinds, larger
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case, Moment, ShadeReading
from whitening.chairside.models import Session
from whitening.recall.coming import Coming, What, coming
from whitening.recall.models import Review
from whitening.recall.result_facts import result_facts
from whitening.screening.teeth import tooth
from whitening.shade.tabs import CLASSICAL_16

KIND = "result_letter"


class NothingToTell(Refusal):
    code = "recall.no_result_yet"
    sentence = _("No session of this case is closed yet, so there is nothing to write about a result.")


def last_session(case: Case) -> Session | None:
    return case.sessions.exclude(closed_at=None).select_related("plan").order_by("closed_at", "pk").last()


def issued(case: Case, *, now: datetime, is_large: bool = False) -> IssuedDocument | None:
    """The newest, while it says what one made now would say; a day that has passed alone makes no other letter."""
    session = last_session(case)
    return None if session is None else _held(case, _said(case, session, now=now, is_large=is_large))


def letter_of(case: Case, *, actor: Actor, now: datetime, is_large: bool = False) -> IssuedDocument:
    """The one that is there and still true, or a new one. Raises NothingToTell, RenderFailed."""
    session = last_session(case)
    if session is None:
        raise NothingToTell
    said = _said(case, session, now=now, is_large=is_large)
    held = _held(case, said)
    if held is not None:
        return held
    return documents.issue(**said, subject=("case", case.pk), actor=actor, words_sha256=documents.words_of(**said))


def _said(case: Case, session: Session, *, now: datetime, is_large: bool) -> documents.Said:
    review = Review.objects.filter(case=case).first()
    readings = list(case.shades.standing().order_by("read_at", "pk"))
    context = {
        "facts": result_facts(readings, CLASSICAL_16),
        "review": review,
        "coming": _coming(session, now) if review is None and case.closed_at is None else [],
        "teeth_left_out": [tooth(number).patient_name for number in session.plan.teeth_left_out],
    }
    return {
        "kind": KIND,
        "patient": case.patient,
        "site": case.site,
        "context": context,
        "language": case.patient.language,
        "title": _("Your result") if _is_final(readings) else _("Your result so far"),
        "now": now,
        "large_print": is_large,
    }


def _held(case: Case, said: documents.Said) -> IssuedDocument | None:
    rows = IssuedDocument.objects.about(("case", case.pk)).filter(kind=KIND, large_print=said["large_print"])
    newest = rows.order_by("-issued_at", "-pk").first()
    return newest if newest is not None and newest.words_sha256 == documents.words_of(**said) else None


def _coming(session: Session, now: datetime) -> list[Coming]:
    """What is left of sensitivity after a week belongs to the aftercare sheet."""
    return [one for one in coming(session, now=now) if one.what is not What.LEFT]


def _is_final(readings: Sequence[ShadeReading]) -> bool:
    return any(one.moment == Moment.REVIEW for one in readings)


def _larger(document: IssuedDocument, actor: Actor, now: datetime) -> IssuedDocument:
    rows = Case.objects.select_related("site", "patient")
    return letter_of(rows.get(pk=int(document.subject_id)), actor=actor, now=now, is_large=True)


def register() -> None:
    kinds.register(
        kinds.DocumentKind(
            code=KIND,
            word=_("letter about the result"),
            clinical=False,
            template="documents/result_letter.html",
            version=1,
        )
    )
    larger.register(KIND, _larger)
