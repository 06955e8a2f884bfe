"""Somebody who called on the last working day and picks the consultation's time alone, by the link in their mailbox."""

from datetime import date, datetime, time
from random import Random

from clinic.diary.actions.visit_types import PatientRules, let_patients_book
from clinic.diary.engine.working import instant
from clinic.diary.models import VisitCode
from whitening.casebook.actions import invite_to_pick
from whitening.cases.models import VisitPurpose
from whitening.demo.world import lives
from whitening.demo.world.days import last_weekday_before, live_until
from whitening.demo.world.passing import living_at
from whitening.demo.world.people import WISHES, Invented
from whitening.demo.world.practice import House

CALLER = Invented(
    name="Yuki Brandt",
    birth_on=date(1988, 9, 14),
    email="yuki@example.org",
    phone="+442079460900",
    language="en",
    allergies="",
    wishes=WISHES[2],
)


def one_picks(house: House, today: date, *, now: datetime) -> None:
    manager, desk = house.one("manager"), house.one("desk")
    with living_at(now):
        kind = house.site.visit_types.get(code=VisitCode.CONSULTATION)
        rules = PatientRules(name=kind.patient_name, may_book=True, days_ahead=60, notice_hours=24)
        let_patients_book(visit_type=kind, rules=rules, version=kind.version, user=manager, actor=manager.actor)
    called_at = instant(last_weekday_before(today), time(16, 40), house.site.zone)
    # A chance of their own: nobody else's life changes by it.
    life = lives.call(house, Random(0), CALLER, now=called_at)  # noqa: S311  (invented, not secret)
    with living_at(life.later(minutes=4)):
        purpose = VisitPurpose.CONSULTATION
        invite_to_pick(case=life.case, purpose=purpose, user=desk, actor=desk.actor, now=life.now)
    live_until(life, now)
