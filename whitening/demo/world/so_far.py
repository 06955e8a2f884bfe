"""The day until now: whoever starts the demo at noon finds a practice at noon, and not a morning that nobody lived."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from clinic.diary import actions as diary
from clinic.diary.models import Status, Why
from whitening.cases.models import CaseVisit, VisitPurpose
from whitening.chairside.actions import GatesShut
from whitening.demo.world import lives
from whitening.demo.world.afterwards import review
from whitening.demo.world.days import all_live_until
from whitening.demo.world.lives import Life
from whitening.demo.world.passing import living_at
from whitening.demo.world.sessions import treat

BEFORE_TIME = timedelta(minutes=5)
# What is left of a visit when the patient goes.
TURN_ROUND = timedelta(minutes=10)


def live_the_day(everybody: Iterable[Life], today: date, *, until: datetime) -> None:
    """Each visit of these lives that has begun by then, in the order of the day, as far as it has come."""
    by_case = {life.case.pk: life for life in everybody}
    begun = CaseVisit.objects.filter(
        case__in=by_case, booking__status=Status.BOOKED, booking__wall_on=today, booking__starts_at__lt=until
    )
    for visit in begun.select_related("booking").order_by("booking__starts_at", "pk"):
        life = by_case[visit.case_id]
        all_live_until(by_case.values(), visit.booking.starts_at - BEFORE_TIME)
        if visit.purpose == VisitPurpose.SESSION:
            _treated(life, visit, until)
        else:
            _seen(life, visit, until)
    all_live_until(by_case.values(), until)


def _seen(life: Life, visit: CaseVisit, until: datetime) -> None:
    _arrives(life, visit)
    over_at = visit.booking.ends_at - TURN_ROUND
    if over_at <= until and visit.purpose == VisitPurpose.REVIEW:
        life.now = over_at
        review(life, visit, month=_last_tab(life))
        return
    dentist = life.house.one("dentist").actor
    life.now = visit.booking.starts_at
    with living_at(life.now):
        diary.check_in(booking=lives.fresh(visit), actor=dentist, now=life.now)
    if over_at <= until:
        life.now = over_at
        with living_at(life.now):
            diary.finish(booking=lives.fresh(visit), actor=dentist, now=life.now)


def _treated(life: Life, visit: CaseVisit, until: datetime) -> None:
    """Not clear to start, the time is given up at the desk, as on any day."""
    _arrives(life, visit)
    life.now = visit.booking.starts_at
    try:
        lives.recognise(life)
        session = lives.begin(life, visit)
    except GatesShut:
        _given_up(life, visit)
        return
    start, finish, _month = lives.shades(life.random)
    treat(life, session, start=start, finish=finish, until=until)


def _arrives(life: Life, visit: CaseVisit) -> None:
    with living_at(life.now):
        diary.arrive(booking=lives.fresh(visit), actor=life.house.one("desk").actor, now=life.now)


def _given_up(life: Life, visit: CaseVisit) -> None:
    with living_at(life.now):
        diary.cancel(
            booking=lives.fresh(visit),
            by="practice",
            why=Why.NOT_SAID,
            reason="Not clear to start today",
            actor=life.house.one("desk").actor,
            now=life.now,
        )


def _last_tab(life: Life) -> str:
    """A month later it is as it was at the end of the session, at best."""
    return str(life.case.shades.standing().order_by("-pk").values_list("tab", flat=True)[0])
