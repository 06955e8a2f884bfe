"""What the practice says in its own words: how to find it, in the mail and letter about a visit. Written twice."""

from datetime import date, datetime, time

from clinic.diary.engine.working import instant
from clinic.diary.tidings import CONFIRMED
from clinic.messages.actions.wording import Which, write_words
from clinic.patients.models import Channel
from whitening.demo.world.days import last_weekday_before
from whitening.demo.world.passing import living_at
from whitening.demo.world.practice import House

WHICH = Which(CONFIRMED, Channel.EMAIL, "en")
SUBJECT = "Your time at {practice}"
_BEGINNING = """Hello {name},

your time is booked: we expect you at {practice} on {date}.

{visit}

{to_do}
{link}

"""
FIRST = _BEGINNING + "You find us at the end of Alder Walk, the green door beside the brook."
SECOND = (
    _BEGINNING
    + """You find us at the end of Alder Walk, the green door beside the brook. There is a bell at the height of a \
wheelchair.

If you cannot come, please tell us. Somebody else may be glad of the time."""
)


def first_words(house: House, *, now: datetime) -> None:
    _write(house, FIRST, seen=0, now=now)


def bettered_words(house: House, today: date) -> None:
    _write(house, SECOND, seen=1, now=instant(last_weekday_before(today), time(12, 40), house.site.zone))


def _write(house: House, text: str, *, seen: int, now: datetime) -> None:
    manager = house.one("manager")
    with living_at(now):
        write_words(
            which=WHICH,
            subject=SUBJECT,
            text=text,
            seen_number=seen,
            at=house.site,
            user=manager,
            actor=manager.actor,
            now=now,
        )
