from collections.abc import Mapping
from typing import Any

from tests.cast import Cast
from tests.permissions.row import AT_THE_CHAIR, DENTIST, by_link, form, page, press
from tests.whitening import course
from tests.whitening.chairside import chairs


def a_case(cast: Cast) -> Mapping[str, Any]:
    return {"pk": chairs.a_case(cast).pk}


def an_answered_case(cast: Cast) -> Mapping[str, Any]:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    return {"pk": case.pk}


def a_question(_cast: Cast) -> Mapping[str, Any]:
    return {"name": "medicines"}


ROWS = [
    page("assessment", DENTIST, args=an_answered_case),
    press("decision", DENTIST, args=an_answered_case),
    press("assessment_sign", DENTIST, args=an_answered_case),
    press("reask_decision", DENTIST, args=an_answered_case),
    form("ask", AT_THE_CHAIR, args=a_case),
    form("examination", DENTIST, args=a_case),
    form("plan", DENTIST, args=a_case),
    form("reask", AT_THE_CHAIR, args=an_answered_case),
    by_link("questions"),
    by_link("questions_done", methods=("GET", "POST")),
    by_link("questions_shown"),
    by_link("questions_thanks"),
    by_link("question", methods=("GET", "POST"), args=a_question),
    by_link("read_ahead", methods=("GET", "POST")),
]
