from collections.abc import Mapping
from typing import Any

from tests.cast import Cast
from tests.permissions.row import AT_THE_CHAIR, DENTIST, EVERYBODY, MANAGERS, by_link, form, page, press
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


def a_place(_cast: Cast) -> Mapping[str, Any]:
    return {"code": "UK"}


def a_version(_cast: Cast) -> Mapping[str, Any]:
    return {"code": "UK", "version": "1"}


# Local rules belong to the whole practice, so no site's staff gets 404 for one.
ROWS = [
    page("assessment", DENTIST, args=an_answered_case),
    page("known", DENTIST, args=an_answered_case),
    press("decision", DENTIST, args=an_answered_case),
    press("letter", DENTIST, args=an_answered_case),
    press("assessment_sign", DENTIST, args=an_answered_case),
    press("reask_decision", DENTIST, args=an_answered_case),
    form("ask", AT_THE_CHAIR, args=a_case),
    form("examination", DENTIST, args=a_case),
    form("plan", DENTIST, args=a_case),
    press("question_sheet", EVERYBODY, args=a_case),
    form("reask", AT_THE_CHAIR, args=an_answered_case),
    page("setup_local_rules", MANAGERS, of_a_site=False),
    page("local_rule", EVERYBODY, args=a_place, of_a_site=False, by_its_own_site=False),
    page("local_rule_version", EVERYBODY, args=a_version, of_a_site=False, by_its_own_site=False),
    form("local_rule_change", MANAGERS, args=a_place, of_a_site=False, by_its_own_site=False),
    by_link("questions"),
    by_link("questions_done", methods=("GET", "POST")),
    by_link("questions_shown"),
    by_link("questions_thanks"),
    by_link("question", methods=("GET", "POST"), args=a_question),
    by_link("read_ahead", methods=("GET", "POST")),
]
