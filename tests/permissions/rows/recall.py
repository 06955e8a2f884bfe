from clinic.messages.models import Call
from tests.cast import NOW, Cast
from tests.permissions.row import AT_THE_CHAIR, CLINICIANS, EVERYBODY, WITH_PATIENTS, by_link, form, page, press
from tests.whitening.chairside import chairs
from tests.whitening.recall import afterwards
from whitening.recall.models import FollowUp

CLOSED = {410}


def a_session(cast: Cast) -> dict[str, object]:
    return {"session_pk": afterwards.a_closed_session(cast).pk}


def a_follow_up(cast: Cast) -> dict[str, object]:
    session = afterwards.a_closed_session(cast)
    return {"pk": FollowUp.objects.filter(session=session).order_by("pk")[0].pk}


def an_escalation(cast: Cast) -> dict[str, object]:
    return {"pk": afterwards.an_escalation(cast).pk}


def a_treated_case(cast: Cast) -> dict[str, object]:
    return {"pk": afterwards.a_closed_session(cast).case_id}


def a_message_call(cast: Cast) -> dict[str, object]:
    held = Call.objects.first()
    return {"pk": (held or afterwards.a_message_call(cast, now=NOW)).pk}


def an_astray_message(cast: Cast) -> dict[str, object]:
    return {"pk": afterwards.an_astray_message(cast).pk}


def a_case(cast: Cast) -> dict[str, object]:
    return {"pk": chairs.a_case(cast).pk}


ROWS = [
    page("followups", EVERYBODY),
    page("recalls", EVERYBODY),
    press("view_keep", EVERYBODY, data=lambda _cast: {"name": "Mine", "owner": "me"}),
    press("view_delete", EVERYBODY, data=lambda _cast: {"name": "Mine"}),
    press(
        "followup_call", WITH_PATIENTS, args=a_follow_up, data=lambda _cast: {"result": "no_answer", "seen_version": 1}
    ),
    press("message_astray", WITH_PATIENTS, args=an_astray_message, data=lambda _cast: {"done": "let_be"}),
    press("message_call", WITH_PATIENTS, args=a_message_call, data=lambda _cast: {"outcome": "reached"}),
    # The hygienist of the cast may not see clinical answers; replies are no health questions.
    form("escalation", AT_THE_CHAIR, args=an_escalation, data=lambda _cast: {"words": "Called, all quiet."}),
    form("escalation_owner", AT_THE_CHAIR, args=an_escalation),
    form("followup_owner", WITH_PATIENTS, args=a_follow_up),
    press("escalation_take", AT_THE_CHAIR, args=an_escalation),
    form("type_reply", AT_THE_CHAIR, args=a_session),
    press("aftercare_make", EVERYBODY, args=a_session),
    press("result_letter", EVERYBODY, args=a_treated_case),
    press("result_send", WITH_PATIENTS, args=a_treated_case),
    press("check_letter", EVERYBODY, args=a_treated_case),
    form("review", CLINICIANS, args=a_case),
    by_link("how_are_you", methods=("GET", "POST"), outside=CLOSED),
    by_link("how_are_you_said", args=lambda _cast: {"receipt": "never-given"}, outside=CLOSED),
    by_link("consent_paper_after", outside=CLOSED),
    by_link("result_so_far", methods=("GET", "POST"), outside=CLOSED),
    by_link("own_result", methods=("GET", "POST"), outside=CLOSED),
    by_link("aftercare", methods=("GET", "POST"), outside=CLOSED),
    by_link("next_check", methods=("GET", "POST"), outside=CLOSED),
    by_link("review_time", methods=("GET", "POST"), outside=CLOSED),
]
