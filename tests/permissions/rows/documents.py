from clinic.documents.models import IssuedDocument
from tests.cast import Cast
from tests.clinic.documents.slips import slip
from tests.permissions.row import AT_THE_CHAIR, EVERYBODY, WITH_PATIENTS, form, open_to_all, page, press
from tests.permissions.rows.consent import a_paper_to_compare
from tests.permissions.rows.diary import a_booking
from whitening.consent.models import PaperReading


def an_appointment_slip(cast: Cast) -> dict[str, object]:
    """Any role of the site hands one over; clinical kinds are tested with the view."""
    held = IssuedDocument.objects.filter(site=cast.fernbrook).first()
    return {"pk": (held or slip(cast)).pk}


def a_slip_of_a_visit(cast: Cast) -> dict[str, object]:
    """Drawn anew, so what it is about has to be there."""
    return {"pk": slip(cast, subject=("booking", str(a_booking(cast)["pk"]))).pk}


def a_patient(cast: Cast) -> dict[str, object]:
    return {"pk": cast.patient.pk}


def a_signed_paper(cast: Cast) -> dict[str, object]:
    """One that somebody has read: whoever reads consents opens it. Others are tested with the view."""
    return {"pk": PaperReading.objects.get(pk=a_paper_to_compare(cast)["reading_pk"]).paper_id}


ROWS = [
    page("document_file", EVERYBODY, args=an_appointment_slip),
    press("document_larger", EVERYBODY, args=a_slip_of_a_visit),
    form("patient_papers", WITH_PATIENTS, args=a_patient),
    page("incoming_file", AT_THE_CHAIR, args=a_signed_paper),
    press("paper_mistake", WITH_PATIENTS, args=a_signed_paper),
    # Nothing typed: the form comes back.
    open_to_all("verify", methods=("GET", "POST"), outside={200, 422}),
]
