from tests.cast import NOW, Cast
from tests.permissions.row import AT_THE_CHAIR, DENTIST, EVERYBODY, WITH_PATIENTS, form, page, press
from tests.whitening.casebook import lived
from whitening.cases.models import CaseVisit, VisitPurpose

WISHES = {"wishes": "A shade or two lighter.", "expected_cycles": "4"}


def a_patient(cast: Cast) -> dict[str, object]:
    return {"patient_pk": cast.patient.pk}


def a_visit(cast: Cast) -> CaseVisit:
    held = CaseVisit.objects.filter(purpose=VisitPurpose.SESSION).first()
    if held is not None:
        return held
    call = lived.called(cast)
    return lived.book(call, VisitPurpose.SESSION, earliest_at=NOW)


def a_case(cast: Cast) -> dict[str, object]:
    return {"pk": a_visit(cast).case_id}


def its_visit(cast: Cast) -> dict[str, object]:
    visit = a_visit(cast)
    return {"pk": visit.case_id, "visit_pk": visit.pk}


ROWS = [
    page("today", EVERYBODY),
    form("case_new", WITH_PATIENTS, args=a_patient, data=lambda _cast: WISHES),
    page("case", EVERYBODY, args=a_case),
    form("case_papers", WITH_PATIENTS, args=a_case),
    press("case_link", WITH_PATIENTS, args=a_case),
    press("case_close", WITH_PATIENTS, args=a_case, data=lambda _cast: {"reason": "moved_away"}),
    press("case_put_off", DENTIST, args=a_case),
    press("case_put_off_lift", DENTIST, args=a_case),
    form("case_time", WITH_PATIENTS, args=lambda cast: a_case(cast) | {"purpose": "consultation"}),
    form("case_course", WITH_PATIENTS, args=a_case),
    press("case_course_book", WITH_PATIENTS, args=a_case),
    press("case_course_let_go", WITH_PATIENTS, args=a_case),
    press("case_times_confirm", WITH_PATIENTS, args=a_case),
    press("case_pick", WITH_PATIENTS, args=lambda cast: a_case(cast) | {"purpose": "consultation"}),
    press("case_time_confirm", WITH_PATIENTS, args=its_visit),
    press("session_start", AT_THE_CHAIR, args=its_visit),
]
