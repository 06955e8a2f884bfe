"""The version of what a chair shows: one short query, asked every other second by every open screen.

Nothing is done without an entry in the trail. While that has none more, no clock of the session has come to its end
and the minute is the same, the screen is the same: its log, its plan and its consent are not even read.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Self

from clinic.trail.head import head
from whitening.chairside import log
from whitening.chairside.care import CareStep, steps_of
from whitening.chairside.models import Session
from whitening.chairside.screen import Screen, screen_of
from whitening.consent.reading import Standing, standing

LONGEST_NUMBER = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """tag: of all that can be seen. The rest says until when nobody has to look again; due_ms is 0 without a clock."""

    tag: str
    head: int
    minute: int
    due_ms: int

    def __str__(self) -> str:
        return f"{self.tag}.{self.head}.{self.minute}.{self.due_ms}"

    @classmethod
    def read(cls, etag: str) -> Self | None:
        """None for what no page of ours has sent."""
        tag, *numbers = etag.strip('"').split(".")
        if len(numbers) != 3 or not all(_is_number(each) for each in numbers):
            return None
        reached, minute, due_ms = map(int, numbers)
        return cls(tag=tag, head=reached, minute=minute, due_ms=due_ms)

    def is_current(self, now: datetime) -> bool:
        waits = self.due_ms == 0 or _ms(now) < self.due_ms
        return waits and self.minute == _minute(now) and self.head == head()


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    screen: Screen
    held: Standing
    care: tuple[CareStep, ...]
    version: Version


def shown_of(session: Session, *, now: datetime) -> Shown:
    # Before anything is read: what is done meanwhile makes this version an old one.
    reached = head()
    screen = screen_of(events=log.read(session), plan=log.plan_of(session, now=now), now=now)
    held, next_at = standing(session.case), screen.state.next_at
    can_be_withdrawn = held.signature.pk if held.signature and not held.withdrawal else 0
    care = steps_of(session, screen.state, now)
    version = Version(
        tag=f"{screen.tag}-{can_be_withdrawn}-{'-'.join(step.wire.replace(':', '') for step in care)}",
        head=reached,
        minute=_minute(now),
        due_ms=_ms(next_at) if next_at else 0,
    )
    return Shown(screen=screen, held=held, care=care, version=version)


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= LONGEST_NUMBER


def _ms(at: datetime) -> int:
    return int(at.timestamp() * 1000)


def _minute(at: datetime) -> int:
    return int(at.timestamp()) // 60
