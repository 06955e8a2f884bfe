from clinic.documents.models import IssuedDocument
from tests.cast import Cast
from tests.clinic.documents.slips import slip
from tests.permissions.row import EVERYBODY, open_to_all, page, press
from tests.permissions.rows.diary import a_booking


def an_appointment_slip(cast: Cast) -> dict[str, object]:
    """Any role of the site hands one over; clinical kinds are tested with the view."""
    held = IssuedDocument.objects.filter(site=cast.fernbrook).first()
    return {"pk": (held or slip(cast)).pk}


def a_slip_of_a_visit(cast: Cast) -> dict[str, object]:
    """Drawn anew, so what it is about has to be there."""
    return {"pk": slip(cast, subject=("booking", str(a_booking(cast)["pk"]))).pk}


ROWS = [
    page("document_file", EVERYBODY, args=an_appointment_slip),
    press("document_larger", EVERYBODY, args=a_slip_of_a_visit),
    # Nothing typed: the form comes back.
    open_to_all("verify", methods=("GET", "POST"), outside={200, 422}),
]
