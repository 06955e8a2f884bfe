from tests.cast import Cast
from tests.clinic.patients.twice import join, second_record
from tests.permissions.row import EVERYBODY, MANAGERS, WITH_PATIENTS, Row, form, page, press


def a_patient(cast: Cast) -> dict[str, object]:
    return {"pk": cast.patient.pk}


def two_records(cast: Cast) -> dict[str, object]:
    return {"pk": cast.patient.pk, "other_pk": second_record(cast).pk}


def a_joined_record(cast: Cast) -> dict[str, object]:
    other = second_record(cast)
    join(cast, cast.patient, other)
    return {"pk": other.pk}


ROWS: list[Row] = [
    page("patients", EVERYBODY),
    form("patient_new", WITH_PATIENTS),
    press("patient_look_alikes", WITH_PATIENTS),
    page("patient", EVERYBODY, args=a_patient),
    form("patient_change", WITH_PATIENTS, args=a_patient),
    press("patient_died", WITH_PATIENTS, args=a_patient),
    press("patient_moved", WITH_PATIENTS, args=a_patient),
    press("patient_number", WITH_PATIENTS, args=a_patient),
    # Whoever finds two records compares them; joining decides for good what is written about whom.
    page("patient_same", EVERYBODY, args=a_patient),
    page("patient_compare", EVERYBODY, args=two_records),
    press("patient_join", MANAGERS, args=two_records),
    press("patient_part", MANAGERS, args=a_joined_record),
]
