from collections.abc import Mapping
from typing import Any

from clinic.documents.models import IncomingPaper
from tests.cast import NOW, Cast
from tests.papers import filed
from tests.permissions.row import (
    AT_THE_CHAIR,
    DENTIST,
    EVERYBODY,
    MANAGERS,
    WITH_PATIENTS,
    by_link,
    form,
    page,
    press,
)
from tests.whitening.chairside import chairs
from whitening.consent.models import ConsentText, PaperReading, Quote, Talk


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


def a_version(_cast: Cast) -> Mapping[str, Any]:
    return {"language": "en", "label": "2"}


def a_translation(_cast: Cast) -> Mapping[str, Any]:
    return {"language": "de", "label": "2"}


def a_paper_to_compare(cast: Cast) -> Mapping[str, Any]:
    """Written down by somebody who is nobody of those asked, so that each of them may compare it."""
    case = chairs.a_case(cast)
    plan = case.plans.first() or chairs.a_plan(cast, case)
    about = {"case": case, "plan": plan}
    talk = Talk.objects.create(**about, can_decide=True, interpreter="none", talked_at=NOW, talked_by=cast.clinician)
    text = ConsentText.objects.create(
        **about, talk=talk, wording="2", language="en", body="[]", sha256=f"{talk.pk:064d}", frozen_at=NOW
    )
    paper = IncomingPaper.objects.filter(patient=cast.patient).first() or filed(cast.patient, cast.desk, kind="consent")
    fields = {"signer_name": "A", "signed_on": chairs.DAY, "read_at": NOW, "read_by": cast.desk}
    return {"pk": case.pk, "reading_pk": PaperReading.objects.create(paper=paper, text=text, **fields).pk}


# The words of the consent belong to the whole practice, so no site's staff gets 404 for them.
ROWS = [
    page("consent", AT_THE_CHAIR, args=a_planned_case),
    press("consent_talk", DENTIST, args=a_planned_case),
    form("consent_interpreter", AT_THE_CHAIR, args=a_planned_case),
    form("consent_on_paper", AT_THE_CHAIR, args=a_planned_case),
    press("consent_print", AT_THE_CHAIR, args=a_planned_case),
    press("consent_paper_check", AT_THE_CHAIR, args=a_paper_to_compare),
    press("consent_blank", EVERYBODY, of_a_site=False),
    press("consent_countersign", DENTIST, args=a_planned_case),
    press("consent_withdraw", WITH_PATIENTS, args=a_planned_case),
    press("consent_photographs", WITH_PATIENTS, args=a_planned_case),
    page("quote", EVERYBODY, args=a_quoted_case),
    press("quote_paper", EVERYBODY, args=a_quoted_case),
    press("deposit", WITH_PATIENTS, args=a_quoted_case, data=lambda _cast: {"step": "asked", "amount": "50"}),
    page("setup_wording", MANAGERS, of_a_site=False),
    page("wording_version", EVERYBODY, args=a_version, of_a_site=False, by_its_own_site=False),
    form("wording_change", MANAGERS, args=a_version, of_a_site=False, by_its_own_site=False),
    press("wording_use", MANAGERS, args=a_translation, of_a_site=False, by_its_own_site=False),
    press("wording_check", MANAGERS, args=a_translation, of_a_site=False, by_its_own_site=False),
    by_link("own_quote", methods=("GET", "POST")),
    by_link("sign", methods=("GET", "POST")),
    by_link("sign_withdraw", methods=("GET", "POST")),
    by_link("consent_paper"),
    by_link("prepare"),
    by_link("prepare_paper", methods=("GET", "POST")),
    by_link("photographs", methods=("GET", "POST")),
]
