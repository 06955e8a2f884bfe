from tests.cast import Cast
from tests.permissions.row import WITH_PATIENTS, by_link, form, open_to_all, press

ASK = ("GET", "POST")
CLOSED = {410}


def a_token(_cast: Cast) -> dict[str, object]:
    return {"token": "never-sent"}


def a_patient(cast: Cast) -> dict[str, object]:
    return {"pk": cast.patient.pk}


ROWS = [
    # Red in a test, where no sweep ever ran.
    open_to_all("health", outside={200, 503}),
    # The tests' own client is on this machine; tests/clinic/messages/test_metrics.py asks from elsewhere.
    open_to_all("metrics"),
    # No provider reports to the tests; tests/clinic/messages/test_events.py switches one on.
    open_to_all("mail_events", methods=("POST",), outside={404}),
    open_to_all("private_link", methods=ASK, args=a_token, outside=CLOSED),
    open_to_all("private_link_new", methods=("POST",), args=a_token),
    open_to_all("private_new", methods=("POST",)),
    open_to_all("private_end", methods=ASK, args=a_token, outside=CLOSED),
    form("contact_choices", WITH_PATIENTS, args=a_patient),
    press("patient_texts", WITH_PATIENTS, args=a_patient),
    press("patient_mail", WITH_PATIENTS, args=a_patient, data=lambda cast: {"address": cast.patient.email}),
    by_link("private_who", methods=ASK, outside=CLOSED),
    by_link("private_code", methods=ASK, outside=CLOSED),
    by_link("preferences", methods=ASK, outside=CLOSED),
]
