from tests.cast import Cast
from tests.permissions.row import EVERYBODY, WITH_PATIENTS, Row, form, page, press


def a_patient(cast: Cast) -> dict[str, object]:
    return {"pk": cast.patient.pk}


ROWS: list[Row] = [
    page("patients", EVERYBODY),
    form("patient_new", WITH_PATIENTS),
    press("patient_look_alikes", WITH_PATIENTS),
    page("patient", EVERYBODY, args=a_patient),
    form("patient_change", WITH_PATIENTS, args=a_patient),
    press("patient_died", WITH_PATIENTS, args=a_patient),
    press("patient_moved", WITH_PATIENTS, args=a_patient),
    press("patient_number", WITH_PATIENTS, args=a_patient),
]
