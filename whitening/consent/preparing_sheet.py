"""The sheet "Before your visit": for the patient's own page, and for the desk to print."""

from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.dates import moment_words
from clinic.accounts.languages import speaking, spoken
from clinic.diary import papers
from clinic.diary.models import Booking
from clinic.diary.slip import VisitIsOff, booking_of
from clinic.documents import actions as documents
from clinic.documents import kinds, larger
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor
from whitening.cases.access import plan_in_force
from whitening.cases.models import Plan
from whitening.consent.preparing import preparing, visit_of

KIND = "before_visit"


def applies(booking: Booking) -> bool:
    return visit_of(booking) is not None


def sheet_for(booking: Booking, is_large: bool, actor: Actor, now: datetime) -> IssuedDocument:
    """The one that was made, while visit and plan are the same; else a new one. Raises VisitIsOff, RenderFailed."""
    visit = visit_of(booking)
    if visit is None:
        raise VisitIsOff
    plan, language = plan_in_force(visit.case), booking.patient.language
    title = _title(booking, language)
    held = _held(booking, plan, title, is_large=is_large, language=language)
    if held is not None:
        return held
    return documents.issue(
        kind=KIND,
        patient=booking.patient,
        site=booking.site,
        context={"facts": preparing(visit, booking, plan)},
        language=language,
        title=title,
        subject=("booking", booking.pk),
        actor=actor,
        now=now,
        large_print=is_large,
    )


def _title(booking: Booking, language: str) -> str:
    """With the time in it: a visit that is moved has another sheet."""
    with speaking(spoken(language)):
        return _("Before your visit on %(when)s") % {"when": moment_words(booking.starts_at, booking.site.zone)}


def _held(booking: Booking, plan: Plan | None, title: str, *, is_large: bool, language: str) -> IssuedDocument | None:
    rows = IssuedDocument.objects.about(("booking", booking.pk)).filter(
        kind=KIND,
        title=title,
        large_print=is_large,
        language=spoken(language),
        template_version=kinds.get(KIND).version,
    )
    # A time that was confirmed since may have been made longer or shorter.
    for changed_at in (plan.planned_at if plan else None, booking.status_at):
        if changed_at is not None:
            rows = rows.filter(issued_at__gte=changed_at)
    return rows.first()


def register() -> None:
    kinds.register(
        kinds.DocumentKind(
            code=KIND,
            word=gettext_lazy("sheet before a visit"),
            clinical=False,
            template="documents/before_visit.html",
            version=1,
        )
    )
    papers.register(
        papers.Paper(code="before", word=gettext_lazy("Before your visit (PDF)"), applies=applies, issue=sheet_for)
    )
    larger.register(KIND, lambda document, actor, now: sheet_for(booking_of(document), True, actor, now))
