from collections.abc import Mapping
from typing import Any

from tests.cast import NOW, Cast
from tests.permissions.row import AT_THE_CHAIR, DENTIST, EVERYBODY, WITH_PATIENTS, by_link, page, press
from tests.whitening.chairside import chairs
from whitening.consent.models import Quote


def a_planned_case(cast: Cast) -> Mapping[str, Any]:
    case = chairs.a_case(cast)
    chairs.a_plan(cast, case)
    return {"pk": case.pk}


def a_quoted_case(cast: Cast) -> Mapping[str, Any]:
    case = chairs.a_case(cast)
    plan = chairs.a_plan(cast, case)
    terms = {"amount": plan.fee, "currency": plan.currency, "valid_until": chairs.DAY}
    Quote.objects.create(case=case, plan=plan, quoted_at=NOW, quoted_by=cast.clinician, **terms)
    return {"pk": case.pk}


ROWS = [
    page("consent", AT_THE_CHAIR, args=a_planned_case),
    press("consent_talk", DENTIST, args=a_planned_case),
    press("consent_countersign", DENTIST, args=a_planned_case),
    press("consent_withdraw", WITH_PATIENTS, args=a_planned_case),
    press("consent_photographs", WITH_PATIENTS, args=a_planned_case),
    page("quote", EVERYBODY, args=a_quoted_case),
    press("quote_paper", EVERYBODY, args=a_quoted_case),
    press("deposit", WITH_PATIENTS, args=a_quoted_case, data=lambda _cast: {"step": "asked", "amount": "50"}),
    by_link("own_quote", methods=("GET", "POST")),
    by_link("sign", methods=("GET", "POST")),
    by_link("sign_withdraw", methods=("GET", "POST")),
    by_link("consent_paper"),
    by_link("prepare"),
    by_link("prepare_paper", methods=("GET", "POST")),
    by_link("photographs", methods=("GET", "POST")),
]
