"""Papers that the desk prints, about one visit or a whole day. The slip is the diary's own; rooms that know more add
theirs."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site, User
from clinic.diary.models import Booking
from clinic.documents.actions import Prepared
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """applies: whether this visit has such a paper. issue: booking, large print, who, when; raises RenderFailed."""

    code: str
    word: StrOrPromise
    applies: Callable[[Booking], bool]
    issue: Callable[[Booking, bool, Actor, datetime], IssuedDocument]


class DrawDay(Protocol):
    """Raises RenderFailed, or a refusal of its own."""

    def __call__(
        self, *, site: Site, day: date, user: User, actor: Actor, now: datetime, large_print: bool
    ) -> Prepared: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPaper:
    """A paper for one day of a site. It names many people or nobody, so it is printed and not kept."""

    code: str
    word: StrOrPromise
    draw: DrawDay
    # Lower stands higher; what whole days hang on stands first.
    position: int = 50


_papers: dict[str, Paper] = {}
_of_day: dict[str, DayPaper] = {}


def register(paper: Paper) -> None:
    _papers[paper.code] = paper


def of_visit(booking: Booking) -> list[Paper]:
    return [paper for paper in _papers.values() if paper.applies(booking)]


def register_of_day(paper: DayPaper) -> None:
    _of_day[paper.code] = paper


def of_day() -> list[DayPaper]:
    return sorted(_of_day.values(), key=lambda paper: paper.position)
