"""Follow-ups as one list, by what must happen now: one bounded query for each section, and one that counts it.

Fifty thousand may be open. A section is read a page at a time: its keys by the index alone, then only the rows shown.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet, TextChoices
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site, User
from clinic.diary.engine.working import instant
from clinic.messages.astray import astray
from clinic.messages.models import Call, DueMessage
from clinic.patients.search import find
from whitening.recall import timing
from whitening.recall.models import Escalation, FollowUp, FollowUpKind, FollowUpState
from whitening.recall.raising import TAKEN_HOLDS

SHOWN = 25
# Of a name that is searched for: so many patients at most.
PATIENTS = 40
NOBODY, MYSELF = "nobody", "me"


class Section(TextChoices):
    """In the order of the page."""

    ANSWERS = "answers", _("Answer these first")
    CALLS = "calls", _("Calls to make")
    INSTEAD = "instead", _("Calls instead of a message")
    ASTRAY = "astray", _("Messages to look at")
    NOT_REACHED = "not_reached", _("Not reached")
    TODAY = "today", _("Due today")
    ASKED = "asked", _("Asked, waiting for an answer")
    COMING = "coming", _("Coming")


class Other(TextChoices):
    """What the list holds besides follow-ups of a session."""

    ANSWER = "answer", _("worrying answer")
    MESSAGE = "message", _("message that did not arrive")


_OF_MESSAGES = {Section.INSTEAD, Section.ASTRAY}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody asked for; empty words ask for everything."""

    text: str = ""
    kind: str = ""
    owner: str = ""
    section: str = ""
    page: int = 1


@dataclass(frozen=True, slots=True)
class Part:
    """One page of one section. count: all of it."""

    section: Section
    count: int
    rows: Sequence[Any]
    page: int
    pages: int


@dataclass(frozen=True, slots=True)
class _Asking:
    user: User
    sites: Sequence[Site]
    wanted: Wanted
    now: datetime
    # None: nobody in particular.
    patients: Sequence[int] | None

    @property
    def site_ids(self) -> list[int]:
        return [site.pk for site in self.sites]


def parts(*, user: User, wanted: Wanted, now: datetime) -> list[Part]:
    """Every section that the question leaves, also those that hold nothing."""
    found = [one.pk for one in find(asked=wanted.text, user=user, limit=PATIENTS)] if wanted.text.strip() else None
    sites = list(Site.objects.visible_to(user).order_by("pk"))
    asking = _Asking(user, sites, wanted, now, found)
    return [_part(section, asking) for section in _sections(wanted)]


def number_overdue(*, user: User, now: datetime) -> int:
    """Of the worrying answers: as recall.raising.is_overdue judges each of them."""
    taken_lately = Q(taken_at__gte=now - TAKEN_HOLDS)
    late = Escalation.objects.visible_to(user).open().filter(due_at__lt=now).exclude(taken_lately)
    return late.order_by().count()


def owners(user: User) -> QuerySet[User]:
    """Who may answer for something at the sites of this person."""
    here = User.objects.filter(memberships__site__in=user.memberships.values("site"), is_active=True)
    return here.distinct().order_by("name", "pk")


def _sections(wanted: Wanted) -> Iterator[Section]:
    for section in Section:
        of_messages, of_answers = section in _OF_MESSAGES, section is Section.ANSWERS
        fits = {
            "": True,
            Other.MESSAGE.value: of_messages,
            Other.ANSWER.value: of_answers,
        }.get(wanted.kind, not of_messages and not of_answers)
        # Nobody owns a message.
        owned = wanted.owner in {"", NOBODY} or not of_messages
        if fits and owned and wanted.section in {"", section.value}:
            yield section


def _part(section: Section, asking: _Asking) -> Part:
    rows = _rows(section, asking)
    count = rows.order_by().count()
    pages = max(1, -(-count // SHOWN))
    page = min(max(asking.wanted.page, 1), pages) if asking.wanted.section else 1
    if not count:
        return Part(section, 0, (), 1, 1)
    keys = rows.values("pk")[(page - 1) * SHOWN : page * SHOWN]
    chosen = rows.model._default_manager.filter(pk__in=keys).select_related(*_BESIDE[rows.model])
    return Part(section, count, list(chosen.order_by(*rows.query.order_by)), page, pages)


_BESIDE: dict[type[Any], tuple[str, ...]] = {
    FollowUp: ("case__patient", "site", "owner", "session"),
    Escalation: ("case__patient", "case__site", "owner"),
    Call: ("patient", "site", "message"),
    DueMessage: ("patient", "site"),
}


def _rows(section: Section, asking: _Asking) -> QuerySet[Any]:
    match section:
        case Section.ANSWERS:
            rows = Escalation.objects.open().filter(case__site__in=asking.site_ids)
            return _of(rows, asking, patient="case__patient").order_by("-urgency", "due_at", "pk")
        case Section.INSTEAD:
            calls = Call.objects.to_make(now=asking.now).filter(site__in=asking.site_ids)
            return _whose(calls, asking, "patient").order_by("wanted_at", "pk")
        case Section.ASTRAY:
            return _whose(astray(asking.user), asking, "patient").select_related(None)
        case Section.NOT_REACHED:
            given_up = FollowUp.objects.filter(state=FollowUpState.NOT_REACHED, case__closed_at=None)
            return _follow_ups(given_up, asking).order_by("-closed_at", "-pk")
        case _:
            return _follow_ups(FollowUp.objects.filter(_when(section, asking)), asking).order_by("next_at", "pk")


def _follow_ups(rows: QuerySet[FollowUp], asking: _Asking) -> QuerySet[FollowUp]:
    here = rows.filter(site__in=asking.site_ids)
    if asking.wanted.kind in FollowUpKind.values:
        here = here.filter(kind=asking.wanted.kind)
    return _of(here, asking, patient="case__patient")


def _of(rows: QuerySet[Any], asking: _Asking, *, patient: str) -> QuerySet[Any]:
    match asking.wanted.owner:
        case "":
            pass
        case "nobody":
            rows = rows.filter(owner=None)
        case "me":
            rows = rows.filter(owner=asking.user)
        case key:
            rows = rows.filter(owner=int(key))
    return _whose(rows, asking, patient)


def _whose(rows: QuerySet[Any], asking: _Asking, patient: str) -> QuerySet[Any]:
    return rows if asking.patients is None else rows.filter(**{f"{patient}__in": asking.patients})


def _when(section: Section, asking: _Asking) -> Q:
    """By the day of each site, which ends at its own midnight."""
    now = asking.now
    if section is Section.CALLS:
        return Q(state=FollowUpState.CALL, next_at__lte=now)
    until, later = _rest_of_today(asking.sites, now, "lt"), _rest_of_today(asking.sites, now, "gte")
    if section is Section.TODAY:
        waits = Q(state=FollowUpState.WAITING)
        return until & (waits | Q(state__in=[FollowUpState.ASKED, FollowUpState.CALL], next_at__gt=now))
    if section is Section.ASKED:
        # What should have become a call and did not has its answer: the review stands in the diary.
        return Q(state=FollowUpState.ASKED) & (later | Q(next_at__lte=now))
    return Q(state__in=[FollowUpState.WAITING, FollowUpState.CALL]) & later


def _rest_of_today(sites: Sequence[Site], now: datetime, bound: str) -> Q:
    by_zone: dict[ZoneInfo, list[int]] = defaultdict(list)
    for site in sites:
        by_zone[site.zone].append(site.pk)
    found = Q()
    for zone, ids in by_zone.items():
        ends_at = instant(timing.local_day(now, zone) + timing.DAY, time(0), zone)
        here = Q(**{f"next_at__{bound}": ends_at})
        found |= here if len(by_zone) == 1 else here & Q(site__in=ids)
    return found
