"""The whole demo world: three months behind, two weeks ahead, the same for the same seed and the same day."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any

from clinic.diary import actions as diary
from clinic.diary.engine.working import instant
from clinic.trail.clock import real_now
from whitening.cases.models import CaseVisit, PlannedLight, VisitPurpose
from whitening.consent.models import InterpreterKind
from whitening.demo.world import lives, papers, people
from whitening.demo.world.absences import absences, closed_on_holidays
from whitening.demo.world.afterwards import follow, one_still_waits
from whitening.demo.world.coursing import one_course
from whitening.demo.world.days import live_until
from whitening.demo.world.lives import Life
from whitening.demo.world.on_call import on_call
from whitening.demo.world.on_paper import one_wants_paper
from whitening.demo.world.own_words import bettered_words, first_words
from whitening.demo.world.passing import living_at
from whitening.demo.world.picking import one_picks
from whitening.demo.world.practice import House, build, check_lights
from whitening.demo.world.sessions import treat
from whitening.demo.world.so_far import live_the_day
from whitening.demo.world.waiting import one_offer, waiting

WEEKS_BEHIND = 13
PAST_CASES = 24
# The year ahead, as Set-up lists them, and what the demo's clock may jump over.
HOLIDAYS_AHEAD = timedelta(days=2 * 365)
# How far each kind of case has come, in the order in which the two weeks ahead are filled.
AHEAD = (
    "called",
    "answered",
    "with_care",
    "agreed",
    "on_paper",
    "not_signed",
    "pregnant",
    "called",
    "doctor_asked",
    "interpreted",
)
Say = Callable[[str], None]


def load(
    *,
    seed: int,
    today: date,
    say: Say,
    past_cases: int = PAST_CASES,
    ahead: Sequence[str] = AHEAD,
    until: datetime | None = None,
) -> House:
    """Builds everything through the program's own actions. Must run on an empty, migrated database.

    until: how far today has gone; by itself nobody has come yet.
    """
    random = Random(seed)  # noqa: S311  (invented people, not secrets)
    first_on = today - timedelta(weeks=WEEKS_BEHIND)
    opened_at = datetime.combine(first_on, time(8), tzinfo=real_now().tzinfo)
    with living_at(opened_at):
        house = build(now=opened_at, opened_on=first_on)
        closed_on_holidays(house, first_on=first_on, before_on=today + HOLIDAYS_AHEAD, now=opened_at)
        first_words(house, now=opened_at)
    say("the practice stands")
    everybody, lived = people.patients(random, past_cases + len(ahead)), []
    for number, invented in enumerate(everybody[:past_cases]):
        lived.append(_past(house, random, invented, first_on + timedelta(days=2 + number * 3), today))
        live_until(lived[-1], _midnight(house, today))
    say(f"{past_cases} cases of the last three months")
    for invented, sort in zip(everybody[past_cases:], ahead, strict=True):
        lived.append(_ahead(house, random, invented, sort, today))
        live_until(lived[-1], _midnight(house, today))
    one_still_waits(house, today_at=_midnight(house, today))
    with living_at(_midnight(house, today)):
        check_lights(house, now=_midnight(house, today))
        absences(house, today, now=_midnight(house, today))
        waiting(house, today, now=_midnight(house, today))
        on_call(house, today, now=_midnight(house, today))
    one_offer(house, today, now=real_now())
    one_picks(house, today, now=_midnight(house, today))
    one_course(house, today, now=_midnight(house, today))
    one_wants_paper(house, today, now=_midnight(house, today))
    bettered_words(house, today)
    if until is not None:
        live_the_day(lived, today, until=until)
    say(f"{len(ahead)} people in the two weeks ahead")
    return house


def _weekday(day: date) -> date:
    return day + timedelta(days=(7 - day.weekday()) if day.weekday() > 4 else 0)


def _call_at(house: House, random: Random, day: date) -> datetime:
    return instant(_weekday(day), time(9 + random.randint(0, 7), random.choice((5, 20, 40))), house.site.zone)


def _past(house: House, random: Random, invented: people.Invented, day: date, today: date) -> Life:
    """A case from the call on, as far as the time until today allows."""
    life = lives.call(house, random, invented, now=_call_at(house, random, day))
    consultation = lives.book(life, VisitPurpose.CONSULTATION, earliest_at=life.now + timedelta(days=1))
    if consultation is None:
        return life
    live_until(life, life.now + timedelta(hours=5))
    lives.answer(life)
    session_visit = lives.book(life, VisitPurpose.SESSION, earliest_at=consultation.booking.ends_at + timedelta(days=1))
    if session_visit is None or consultation.booking.ends_at > _midnight(house, today):
        return life
    light = random.choice((PlannedLight.NONE, PlannedLight.NONE, PlannedLight.HAND_HELD))
    live_until(life, consultation.booking.starts_at)
    lives.consult(life, consultation, light=light, cycles=random.choice((3, 4, 4)))
    lives.confirm(life, session_visit)
    if session_visit.booking.ends_at <= _midnight(house, today):
        _treated(life, session_visit, today)
    return life


def _treated(life: Life, visit: CaseVisit, today: date) -> None:
    """The session, and what follows it."""
    live_until(life, visit.booking.starts_at)
    with living_at(life.now):
        check_lights(life.house, now=life.now)
    lives.prepare(life, visit)
    start, finish, month = lives.shades(life.random)
    session = treat(life, lives.begin(life, visit), start=start, finish=finish)
    _finish_visit(life, visit)
    follow(life, session, month=month, end=_midnight(life.house, today))


def _midnight(house: House, day: date) -> datetime:
    return instant(day, time(0), house.site.zone)


def _finish_visit(life: Life, visit: CaseVisit) -> None:
    booking = lives.fresh(visit)
    if booking.status != "fulfilled":
        with living_at(life.now):
            diary.finish(booking=booking, actor=life.house.one("dentist").actor, now=life.now)


def _ahead(house: House, random: Random, invented: people.Invented, sort: str, today: date) -> Life:
    """Somebody who called in the last days, each as far as its sort says."""
    life = lives.call(house, random, invented, now=_call_at(house, random, today - timedelta(days=9)))
    agreed = sort in {"agreed", "with_care", "not_signed", "on_paper", "interpreted"}
    first_on = today - timedelta(days=4) if agreed else today
    consultation = lives.book(life, VisitPurpose.CONSULTATION, earliest_at=instant(first_on, time(8), house.site.zone))
    if consultation is None or sort == "called":
        return life
    live_until(life, life.now + timedelta(hours=7))
    lives.answer(life, instead=_ANSWERS.get(sort))
    after = max(consultation.booking.ends_at + timedelta(days=1), _midnight(house, today))
    visit = lives.book(life, VisitPurpose.SESSION, earliest_at=after)
    if sort == "doctor_asked":
        papers.ask_a_doctor(life, "LGT-02")
    if not agreed or consultation.booking.ends_at > real_now():
        return life
    live_until(life, consultation.booking.starts_at)
    if sort != "not_signed":
        lives.consult(life, consultation, **_SIGNING.get(sort, {}))
        if visit is not None:
            lives.confirm(life, visit)
    return life


def _interpreted(life: Life) -> None:
    papers.let_interpreter_sign(life, "Ngozi Eze")
    lives.sign_on_tablet(life)


_SIGNING: dict[str, dict[str, Any]] = {
    "on_paper": {"signing": papers.sign_on_paper},
    "interpreted": {
        "signing": _interpreted,
        "interpreter": {
            "interpreter": InterpreterKind.PRESENT,
            "interpreter_name": "Ngozi Eze",
            "interpreter_language": "Igbo",
            "interpreter_service": "Fernbrook Interpreters",
        },
    },
}
_ANSWERS = {
    "doctor_asked": {"porphyria": ["yes"]},
    "pregnant": {"pregnancy_may_apply": ["yes"], "pregnant": ["unsure"]},
    "with_care": {"sensitivity": ["2"]},
}
