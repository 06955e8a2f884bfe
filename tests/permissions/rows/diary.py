from clinic.diary.actions import invite, make_calendar
from clinic.diary.models import Closure, OwnAct, OwnChange, WaitingOffer
from tests.cast import NOW, Cast
from tests.clinic.diary.house import at, book, furnish, resource, visit
from tests.clinic.diary.waitlist.waiting import one_offer, wish
from tests.permissions.row import (
    CLINICIANS,
    EVERYBODY,
    MANAGER,
    MANAGERS,
    WITH_PATIENTS,
    Row,
    by_link,
    form,
    open_to_all,
    page,
    press,
)


def furnished(cast: Cast) -> None:
    if not cast.fernbrook.visit_types.exists():
        furnish(cast)


def a_booking(cast: Cast) -> dict[str, object]:
    furnished(cast)
    held = cast.fernbrook.bookings.first() or book(cast, at(9), tell=False)
    return {"pk": held.pk}


def a_slip(cast: Cast) -> dict[str, object]:
    return a_booking(cast) | {"code": "slip"}


def an_arrival(cast: Cast) -> dict[str, object]:
    return a_booking(cast) | {"act": "arrive"}


def a_change(cast: Cast) -> dict[str, object]:
    furnished(cast)
    booking = cast.fernbrook.bookings.first() or book(cast, at(9), tell=False)
    made = OwnChange.objects.create(site=cast.fernbrook, booking=booking, act=OwnAct.KEPT, at=NOW)
    return {"change": made.pk}


def a_patient(cast: Cast) -> dict[str, object]:
    furnished(cast)
    return {"patient_pk": cast.patient.pk}


def a_room(cast: Cast) -> dict[str, object]:
    furnished(cast)
    return {"pk": resource("Willow").pk}


def a_person(cast: Cast) -> dict[str, object]:
    furnished(cast)
    return {"pk": resource("Cleo Haddad").pk}


def a_quarter(cast: Cast) -> dict[str, object]:
    furnished(cast)
    return {"to": resource("Willow").pk, "start_at": at(10).isoformat().replace("+00:00", "+0000")}


def a_closure(cast: Cast) -> dict[str, object]:
    furnished(cast)
    held = Closure.objects.create(site=cast.fernbrook, kind="closed", starts_at=at(9), ends_at=at(10))
    return {"pk": held.pk}


def a_visit(cast: Cast) -> dict[str, object]:
    furnished(cast)
    return {"pk": visit().pk}


def a_day(_cast: Cast) -> dict[str, object]:
    return {"day": NOW.date().isoformat()}


def a_calendar(cast: Cast) -> dict[str, object]:
    furnished(cast)
    made, _secret = make_calendar(
        resource=resource("Cleo Haddad"),
        with_initials=False,
        label="",
        user=cast.manager,
        actor=cast.manager.actor,
        now=NOW,
    )
    return {"pk": made.pk}


def a_wish(cast: Cast) -> dict[str, object]:
    furnished(cast)
    held = cast.fernbrook.waiting_wishes.first() or wish(cast, cast.patient)
    return {"pk": held.pk}


def an_offer(cast: Cast) -> dict[str, object]:
    furnished(cast)
    held = WaitingOffer.objects.filter(wish__site=cast.fernbrook).first() or one_offer(cast, cast.patient)
    return {"pk": held.pk, "answer": "no"}


def an_invitation(cast: Cast) -> dict[str, object]:
    furnished(cast)
    kind = visit()
    kind.patient_may_book = True
    held = invite(patient=cast.patient, visit_type=kind, user=cast.desk, actor=cast.desk.actor, now=NOW)
    return {"pk": held.pk}


def a_receipt(_cast: Cast) -> dict[str, object]:
    return {"receipt": "never-made"}


def a_made_up_secret(_cast: Cast) -> dict[str, object]:
    return {"token": "never-made"}


def a_day_paper(cast: Cast) -> dict[str, object]:
    return a_day(cast) | {"code": "downtime"}


ROWS: list[Row] = [
    page("diary", EVERYBODY),
    # Everybody sees the day of the site they work at now.
    page("diary_day", EVERYBODY, args=a_day, of_a_site=False),
    page("diary_week", EVERYBODY, args=a_day, of_a_site=False),
    press("diary_list", EVERYBODY, args=a_day, of_a_site=False),
    press("diary_paper", EVERYBODY, args=a_day_paper, of_a_site=False),
    page("booking", EVERYBODY, args=a_booking),
    page("booking_held", EVERYBODY, args=a_booking),
    page("book_at", WITH_PATIENTS, query=a_quarter),
    form("clock_rules", WITH_PATIENTS, of_a_site=False),
    press("booking_cancel", WITH_PATIENTS, args=a_booking),
    press("booking_why", WITH_PATIENTS, args=a_booking),
    press("booking_act", WITH_PATIENTS, args=an_arrival),
    press("own_changes_seen", WITH_PATIENTS, data=a_change),
    press("booking_put", WITH_PATIENTS, args=a_booking),
    form("booking_late", WITH_PATIENTS, args=a_booking),
    press("booking_late_answer", CLINICIANS, args=a_booking),
    form("booking_move", WITH_PATIENTS, args=a_booking),
    form("find_time", WITH_PATIENTS, args=a_patient),
    form("walk_in", WITH_PATIENTS, args=a_patient),
    # The session ends with it, so the device shows the patient's page and no sign-in page.
    press("booking_paper", EVERYBODY, args=a_slip),
    press("booking_tablet", WITH_PATIENTS, args=a_booking),
    page("results", (*CLINICIANS, MANAGER)),
    form("setup_resources", MANAGERS),
    form("setup_hours", MANAGERS, args=a_room),
    form("setup_closures", MANAGERS),
    press("setup_closure_take_back", MANAGERS, args=a_closure),
    form("setup_holidays", MANAGERS),
    form("setup_person_visits", MANAGERS, args=a_person),
    form("setup_visits", MANAGERS),
    form("setup_visit", MANAGERS, args=a_visit),
    press("setup_visit_patients", MANAGERS, args=a_visit),
    # A person without a place in the diary reads there that they have none.
    form("own_calendars", EVERYBODY),
    # One's own only: a colleague's calendar does not exist there for anybody else.
    press("own_calendar_take_back", EVERYBODY, args=a_calendar, fine=frozenset({302, 404})),
    form("setup_calendars", MANAGERS),
    press("setup_calendar_take_back", MANAGERS, args=a_calendar),
    open_to_all("calendar_feed", args=a_made_up_secret, outside={404}),
    page("waitlist", EVERYBODY),
    form("waitlist_add", WITH_PATIENTS, args=a_patient),
    form("waitlist_change", WITH_PATIENTS, args=a_wish),
    press("waitlist_remove", WITH_PATIENTS, args=a_wish),
    press("waitlist_put_back", WITH_PATIENTS, args=a_wish),
    press("waitlist_answer", WITH_PATIENTS, args=an_offer),
    by_link("waitlist_page", methods=("GET", "POST")),
    by_link("before_visit"),
    by_link("own_visit_keep", methods=("POST",)),
    by_link("own_visit_move", methods=("GET", "POST")),
    by_link("own_visit_cancel", methods=("GET", "POST")),
    by_link("own_visit_done", args=a_receipt),
    by_link("pick_time", methods=("GET", "POST")),
    press("invite_to_pick", WITH_PATIENTS, args=a_patient),
    press("invitation_take_back", WITH_PATIENTS, args=an_invitation),
]
