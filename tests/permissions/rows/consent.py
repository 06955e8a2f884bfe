from collections.abc import Mapping
from typing import Any

from tests.cast import Cast
from tests.permissions.row import AT_THE_CHAIR, DENTIST, WITH_PATIENTS, by_link, page, press
from tests.whitening.chairside import chairs


def a_planned_case(cast: Cast) -> Mapping[str, Any]:
    case = chairs.a_case(cast)
    chairs.a_plan(cast, case)
    return {"pk": case.pk}


ROWS = [
    page("consent", AT_THE_CHAIR, args=a_planned_case),
    press("consent_talk", DENTIST, args=a_planned_case),
    press("consent_countersign", DENTIST, args=a_planned_case),
    press("consent_withdraw", WITH_PATIENTS, args=a_planned_case),
    press("consent_photographs", WITH_PATIENTS, args=a_planned_case),
    by_link("sign", methods=("GET", "POST")),
    by_link("sign_withdraw", methods=("GET", "POST")),
    by_link("consent_paper"),
    by_link("prepare"),
    by_link("prepare_paper", methods=("GET", "POST")),
    by_link("photographs", methods=("GET", "POST")),
]
