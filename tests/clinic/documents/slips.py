"""An appointment slip for a patient of the cast."""

from datetime import UTC, datetime

from clinic.documents.actions import issue
from clinic.documents.models import IssuedDocument
from clinic.patients.models import Patient
from tests.cast import NOW, Cast, actor_of

SLIP = {
    "visit": "Consultation",
    "starts_at": datetime(2026, 7, 14, 13, 30, tzinfo=UTC),
    "minutes": 40,
    "with_whom": "Leila Haddad",
    "note": "Please bring a list of your medicines.",
}


def slip(cast: Cast, *, patient: Patient | None = None, **more: object) -> IssuedDocument:
    given: dict[str, object] = {
        "kind": "appointment_slip",
        "patient": patient or cast.patient,
        "site": (patient or cast.patient).site,
        "context": SLIP,
        "language": "en",
        "title": "Your appointment",
        "subject": ("booking", 7),
        "actor": actor_of(cast.desk),
        "now": NOW,
    }
    return issue(**(given | more))  # type: ignore[arg-type]  # every test names what differs
