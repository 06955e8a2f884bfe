"""A world with a furnished diary that is open every day: four visits in a few days, one today, two times on offer."""

from datetime import date, datetime, time, timedelta

from clinic.accounts.models import Role
from clinic.diary import actions
from clinic.diary.actions.setting_up import set_hours
from clinic.diary.engine.working import instant
from clinic.diary.models import Booking, FreedTime, Resource, VisitCode, VisitType
from clinic.diary.waitlist.freed import gaps
from clinic.diary.waitlist.listing import WantedVisit, WishDetails, add_wish
from clinic.diary.waitlist.matching import matches
from clinic.diary.waitlist.offering import offer
from clinic.patients.actions import Details, register_patient
from clinic.patients.models import Patient
from clinic.trail.clock import real_now
from tests.cast import Cast, actor_of, open_practice
from tests.clinic.diary.house import SINCE, another_patient, furnish, visit

# Past the days that a search offers: a test that takes one must not put it on the day that another one walks through.
DAYS_AHEAD = 9


def seeded_day(cast: Cast) -> date:
    return real_now().astimezone(cast.fernbrook.zone).date() + timedelta(days=DAYS_AHEAD)


def fill() -> None:
    cast = open_practice()
    furnish(cast)
    # One person who may do everything on these pages.
    cast.desk.memberships.create(site=cast.fernbrook, role=Role.ASSISTANT)
    for resource in Resource.objects.all():
        set_hours(
            resource=resource,
            weekdays=range(7),
            from_time=time(8),
            to_time=time(18),
            from_on=SINCE,
            user=cast.manager,
            actor=actor_of(cast.manager),
        )
    at = instant(seeded_day(cast), time(9), cast.fernbrook.zone)
    _book(cast, cast.patient, VisitCode.CONSULTATION, at)
    _book(cast, another_patient(cast, 1), VisitCode.PROBLEM, at)
    _book(cast, another_patient(cast, 2), VisitCode.REVIEW, at + timedelta(hours=1))
    _book(cast, another_patient(cast, 3), VisitCode.TREATMENT, at + timedelta(hours=2), lapses=True)
    assert cast.teenager.pk
    noon = instant(real_now().astimezone(cast.fernbrook.zone).date(), time(12), cast.fernbrook.zone)
    _book(cast, another_patient(cast, 4), VisitCode.CONSULTATION, noon, now=min(real_now(), noon - timedelta(hours=4)))
    freed = _book(cast, another_patient(cast, 6), VisitCode.PROBLEM, at + timedelta(days=1))
    _offer(cast, another_patient(cast, 5), freed)
    # Whom no other test books.
    _register(cast, "Tuuli Kask")
    _register(cast, "Oskar Lindgren")
    _by_link(cast, _register(cast, "Nadia Roth"), at + timedelta(days=2))


def _register(cast: Cast, name: str) -> Patient:
    details = Details(name=name, birth_on=date(1984, 2, 9), email=f"{name.partition(' ')[0].lower()}@example.org")
    desk = actor_of(cast.desk)
    return register_patient(site=cast.fernbrook, details=details, user=cast.desk, actor=desk, now=real_now())


def _by_link(cast: Cast, patient: Patient, at: datetime) -> None:
    """Two letters: a time on offer, and the link to pick another visit's time."""
    VisitType.objects.filter(pk=visit(VisitCode.HYGIENE).pk).update(patient_may_book=True)
    kind, desk = visit(VisitCode.HYGIENE), actor_of(cast.desk)
    actions.invite(patient=patient, visit_type=kind, user=cast.desk, actor=desk, now=real_now())
    _offer(cast, patient, _book(cast, another_patient(cast, 7), VisitCode.PROBLEM, at))


def _offer(cast: Cast, patient: Patient, booking: Booking) -> None:
    """Somebody waits; a visit is cancelled, and its time is on offer."""
    now, desk = real_now(), actor_of(cast.desk)
    details = WishDetails(since_on=now.date())
    add_wish(patient=patient, visit=WantedVisit(visit(VisitCode.PROBLEM)), details=details, actor=desk, now=now)
    actions.cancel(booking=booking, by="patient", reason="", actor=desk, now=now)
    # At night the tick offers nothing to anybody.
    freed = gaps(list(FreedTime.objects.all()), site=cast.fernbrook, now=now)
    (match,) = matches(site=cast.fernbrook, gaps=freed, now=now)
    offer(match, now=now)


def _book(
    cast: Cast, patient: Patient, code: str, at: datetime, *, lapses: bool = False, now: datetime | None = None
) -> Booking:
    now = now or real_now()
    request = actions.BookingRequest(
        patient, visit(code), at, cycles=4 if lapses else 0, lapses_at=now + timedelta(hours=5) if lapses else None
    )
    return actions.book(site=cast.fernbrook, request=request, actor=actor_of(cast.desk), now=now)
