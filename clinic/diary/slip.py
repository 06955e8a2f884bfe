"""The appointment slip: when, for how long, with whom and where, to take home."""

from datetime import datetime, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.dates import moment_words
from clinic.accounts.languages import speaking, spoken
from clinic.diary import papers
from clinic.diary.models import COMING, Booking, Need, Status
from clinic.documents import actions as documents
from clinic.documents import larger
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal

KIND = "appointment_slip"
MINUTE = timedelta(minutes=1)


class VisitIsOff(Refusal):
    code = "diary.visit_is_off"
    sentence = gettext_lazy("This visit does not stand any more, so there is nothing to print about it.")


def applies(booking: Booking) -> bool:
    """A held time is nobody's visit yet: paper lasts longer."""
    return booking.status in COMING and booking.status != Status.PENDING


def issue(booking: Booking, is_large: bool, actor: Actor, now: datetime) -> IssuedDocument:
    """A new one at each press: it says the time, the people and the place as they are now."""
    if not applies(booking):
        raise VisitIsOff
    language = booking.patient.language
    with speaking(spoken(language)):
        context = {
            "visit": booking.visit_type.patient_name or _("your visit"),
            "starts_at": booking.starts_at,
            "minutes": (booking.ends_at - booking.starts_at) // MINUTE,
            "with_whom": _with_whom(booking),
            "note": _note(booking),
        }
    return documents.issue(
        kind=KIND,
        patient=booking.patient,
        site=booking.site,
        context=context,
        language=language,
        title=gettext_lazy("Your appointment"),
        subject=("booking", booking.pk),
        actor=actor,
        now=now,
        large_print=is_large,
    )


def _with_whom(booking: Booking) -> str:
    claims = booking.claims.filter(active=True, need__in=[Need.EXAMINER, Need.CLINICIAN])
    claim = claims.select_related("resource").order_by("start_at", "pk").first()
    return claim.resource.name if claim else ""


def _note(booking: Booking) -> str:
    if booking.status != Status.PROPOSED or booking.lapses_at is None:
        return ""
    until = moment_words(booking.lapses_at, booking.site.zone)
    return _("This time is pencilled in, not confirmed yet. We keep it for you until %(until)s.") % {"until": until}


def _larger(document: IssuedDocument, actor: Actor, now: datetime) -> IssuedDocument:
    return issue(booking_of(document), True, actor, now)


def booking_of(document: IssuedDocument) -> Booking:
    """The visit that a paper is about."""
    rows = Booking.objects.select_related("site", "patient", "visit_type")
    return rows.get(pk=int(document.subject_id))


def register() -> None:
    papers.register(
        papers.Paper(code="slip", word=gettext_lazy("Appointment slip (PDF)"), applies=applies, issue=issue)
    )
    larger.register(KIND, _larger)
