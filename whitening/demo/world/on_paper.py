"""Somebody without e-mail who wants letters: the one about the first visit waits to be printed."""

from datetime import date, datetime, time, timedelta
from random import Random

from clinic.diary.engine.working import instant
from clinic.patients.models import Channel
from whitening.cases.models import VisitPurpose
from whitening.demo.world import lives
from whitening.demo.world.days import last_weekday_before, live_until
from whitening.demo.world.people import WISHES, Invented
from whitening.demo.world.practice import House

CALLER = Invented(
    name="Halvard Oyelaran",
    birth_on=date(1951, 2, 8),
    email="",
    phone="+442079460902",
    language="en",
    allergies="",
    wishes=WISHES[0],
    address="61 Weir Street\nFernbrook FB2 4AA",
    channel=Channel.LETTER,
)
# Far enough away for the post, near enough for the diary's fortnight.
VISIT_IN = timedelta(days=9)


def one_wants_paper(house: House, today: date, *, now: datetime) -> None:
    called_at = instant(last_weekday_before(today), time(11, 25), house.site.zone)
    # A chance of their own: nobody else's life changes by it.
    life = lives.call(house, Random(0), CALLER, now=called_at)  # noqa: S311  (invented, not secret)
    life.later(minutes=5)
    lives.book(life, VisitPurpose.CONSULTATION, earliest_at=instant(today + VISIT_IN, time(8), house.site.zone))
    live_until(life, now)
