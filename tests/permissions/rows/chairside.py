from tests.cast import Cast
from tests.permissions.row import AT_THE_CHAIR, DENTIST, FINE, MANAGERS, form, page, press
from tests.whitening.chairside import chairs
from tests.whitening.recall import afterwards

AROUND_MATERIALS = (*AT_THE_CHAIR, *MANAGERS)


def a_session(cast: Cast) -> dict[str, object]:
    return {"pk": chairs.a_session(cast).pk}


def a_closed_session(cast: Cast) -> dict[str, object]:
    return {"session_pk": afterwards.a_closed_session(cast).pk}


def a_case(cast: Cast) -> dict[str, object]:
    return {"pk": chairs.a_case(cast).pk}


def a_batch(cast: Cast) -> dict[str, object]:
    return {"pk": chairs.a_batch(cast).pk}


def a_light(cast: Cast) -> dict[str, object]:
    return {"pk": chairs.a_light(cast).resource_id}


ROWS = [
    page("chairside", AT_THE_CHAIR, args=a_session),
    page("chairside_screen", AT_THE_CHAIR, args=a_session, fine=FINE | {304}),
    press("chairside_event", AT_THE_CHAIR, args=a_session),
    press("chairside_withdraw", AT_THE_CHAIR, args=a_session),
    # Only who may see clinical answers; the hygienist and the assistant of the cast may not.
    press("session_record", DENTIST, args=a_closed_session),
    press("case_identity", AT_THE_CHAIR, args=a_case),
    page("materials", AROUND_MATERIALS, of_a_site=False),
    form("batch_new", AROUND_MATERIALS, of_a_site=False),
    page("batch", AROUND_MATERIALS, args=a_batch),
    press("batch_hold", AROUND_MATERIALS, args=a_batch),
    press("batch_release", MANAGERS, args=a_batch),
    press("batch_waste", AROUND_MATERIALS, args=a_batch),
    form("light", MANAGERS, args=a_light),
    form("light_check", AROUND_MATERIALS, args=a_light),
]
