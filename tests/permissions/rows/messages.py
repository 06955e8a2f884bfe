from clinic.messages.models import LetterBatch
from tests.cast import NOW, Cast
from tests.permissions.row import EVERYBODY, MANAGERS, WITH_PATIENTS, by_link, form, open_to_all, page, press

ASK = ("GET", "POST")
CLOSED = {410}


def a_token(_cast: Cast) -> dict[str, object]:
    return {"token": "never-sent"}


def a_patient(cast: Cast) -> dict[str, object]:
    return {"pk": cast.patient.pk}


def a_batch(cast: Cast) -> dict[str, object]:
    return {"pk": LetterBatch.objects.create(site=cast.fernbrook, made_at=NOW, made_by="Dana Popescu").pk}


def a_message(_cast: Cast) -> dict[str, object]:
    return {"kind": "new_link", "channel": "text", "language": "en"}


# The words of the messages are the whole practice's.
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
    page("letters", WITH_PATIENTS),
    press("letters_make", WITH_PATIENTS),
    press("letters_print", WITH_PATIENTS, args=a_batch),
    press("letters_posted", WITH_PATIENTS, args=a_batch),
    press("letters_put_back", WITH_PATIENTS, args=a_batch),
    form("text_replies", MANAGERS, args=lambda cast: {"pk": cast.fernbrook.pk}),
    page("setup_messages", MANAGERS, of_a_site=False),
    form("message_words", MANAGERS, args=a_message, of_a_site=False, by_its_own_site=False),
    press("message_words_back", MANAGERS, args=a_message, of_a_site=False, by_its_own_site=False),
    form("contact_choices", WITH_PATIENTS, args=a_patient),
    page("patient_messages", EVERYBODY, args=a_patient),
    press("patient_texts", WITH_PATIENTS, args=a_patient),
    press("patient_mail", WITH_PATIENTS, args=a_patient, data=lambda cast: {"address": cast.patient.email}),
    by_link("private_who", methods=ASK, outside=CLOSED),
    by_link("private_code", methods=ASK, outside=CLOSED),
    by_link("preferences", methods=ASK, outside=CLOSED),
]
