"""Papers about one visit that the desk prints. The slip is the diary's own; rooms that know more add theirs."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django_stubs_ext import StrOrPromise

from clinic.diary.models import Booking
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """applies: whether this visit has such a paper. issue: booking, large print, who, when; raises RenderFailed."""

    code: str
    word: StrOrPromise
    applies: Callable[[Booking], bool]
    issue: Callable[[Booking, bool, Actor, datetime], IssuedDocument]


_papers: dict[str, Paper] = {}


def register(paper: Paper) -> None:
    _papers[paper.code] = paper


def of_visit(booking: Booking) -> list[Paper]:
    return [paper for paper in _papers.values() if paper.applies(booking)]
