"""Somebody who called some days ago and was given a whole course: the cleaning booked, what follows pencilled."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from random import Random

from clinic.diary.actions import keep_visit
from clinic.diary.courses.finding import find_courses
from clinic.diary.engine.wishes import Wishes
from clinic.diary.engine.working import instant
from whitening.casebook.actions import VisitWish, book_course
from whitening.casebook.courses import Missing, missing, sought
from whitening.cases.models import CaseVisit
from whitening.demo.world import lives
from whitening.demo.world.days import live_until
from whitening.demo.world.lives import Life
from whitening.demo.world.passing import living_at
from whitening.demo.world.people import WISHES, Invented
from whitening.demo.world.practice import House

SESSIONS = 2
# Pencilled times without a consultation are held for a week: of these days ago they lapse about tomorrow.
CALLED_DAYS_AGO = (6, 5, 4)
CALLER = Invented(
    name="Ngozi Tamm",
    birth_on=date(1979, 4, 22),
    email="ngozi@example.org",
    phone="+442079460901",
    language="en",
    allergies="",
    wishes=WISHES[1],
)


def one_course(house: House, today: date, *, now: datetime) -> None:
    """She has said by link that she comes to the cleaning, and nobody at the desk has seen that yet."""
    days = (today - timedelta(days=number) for number in CALLED_DAYS_AGO)
    called_on = next(day for day in days if day.weekday() < 5)
    called_at = instant(called_on, time(15, 10), house.site.zone)
    # A chance of their own: nobody else's life changes by it.
    life = lives.call(house, Random(0), CALLER, now=called_at)  # noqa: S311  (invented, not secret)
    with living_at(life.later(minutes=6)):
        visits = _booked(life, from_on=today + timedelta(days=1))
    live_until(life, instant(today - timedelta(days=1), time(20, 15), house.site.zone))
    if visits:
        with living_at(life.now):
            keep_visit(booking=lives.fresh(visits[0]), actor=life.themselves, now=life.now)
    live_until(life, now)


def _booked(life: Life, *, from_on: date) -> list[CaseVisit]:
    """The first course that the diary offers; none where it is full."""
    wanted: Missing = replace(missing(life.case, now=life.now), sessions=SESSIONS)
    look = sought(life.case, wanted, from_on=from_on, person=None, wishes=Wishes(), now=life.now)
    found = find_courses(patient=life.patient, visits=look.visits, gaps=look.gaps, now=life.now).proposals
    if not found:
        return []
    starts = (step.opening.start_at for step in found[0].steps)
    wishes = [VisitWish(purpose, start_at) for purpose, start_at in zip(wanted.purposes, starts, strict=True)]
    return book_course(case=life.case, wishes=wishes, actor=life.house.one("desk").actor, now=life.now)
