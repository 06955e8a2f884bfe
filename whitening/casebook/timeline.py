"""What happened in a case, day by day: the trail, the shades, and for those at the chair each session's log."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import groupby

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.patients.person import person_ids
from clinic.trail import verbs
from clinic.trail.models import TrailEntry
from whitening.casebook.subjects import PLANNED, Subject
from whitening.cases.models import Case, ShadeReading
from whitening.chairside.protocol.events import Event
from whitening.chairside.told import milestones

MOST = 400
# The days that stand open at once hold about so many lines.
AT_ONCE = 14
# What only the machine does, and what another entry tells already; the trail itself keeps all of it.
_UNTOLD = ["messages.planned", "messages.link_made", "messages.link_ended", "cases.visit_added", "cases.shade_read"]
# One tap at the chair; the log says what was tapped.
_TAPPED = "chairside.recorded"


@dataclass(frozen=True, slots=True)
class Entry:
    at: datetime
    actor_name: str
    sentence: str | Promise


@dataclass(frozen=True, slots=True)
class Day:
    """A local day of the site."""

    on: date
    entries: Sequence[Entry]


def timeline(
    case: Case,
    *,
    user: User,
    names: Mapping[Subject, str | Promise],
    shades: Iterable[ShadeReading],
    logs: Mapping[int, Sequence[Event]],
) -> list[Day]:
    """Since the case was opened, the newest first. What the chair recorded only for those who work there."""
    reads_logs = may(user, Capability.CHAIRSIDE_RECORD, case.site)
    entries = _of_trail(case, names, without=[*_UNTOLD, _TAPPED] if reads_logs else _UNTOLD)
    entries += [Entry(one.read_at, one.read_by, _shade(one)) for one in shades]
    if reads_logs:
        entries += _of_logs(logs.values())
    # The case is opened a moment after its patient is chosen.
    first_at = case.opened_at - timedelta(minutes=1)
    told = sorted((one for one in entries if one.at >= first_at), key=lambda one: one.at, reverse=True)
    by_day = groupby(_in_short(told), key=lambda one: one.at.astimezone(case.site.zone).date())
    return [Day(on, list(of_day)) for on, of_day in by_day]


def newest(days: Sequence[Day]) -> int:
    """How many days stand open at once: the last one always."""
    lines = 0
    for place, day in enumerate(days):
        lines += len(day.entries)
        if lines > AT_ONCE:
            return max(place, 1)
    return len(days)


def _of_trail(case: Case, names: Mapping[Subject, str | Promise], *, without: Sequence[str]) -> list[Entry]:
    rows = TrailEntry.objects.of_patients(person_ids(case.patient)).exclude(verb__in=without).order_by("-pk")[:MOST]
    return [
        Entry(
            row.happened_at,
            _("the patient") if row.actor_kind == "patient" else row.actor_name,
            _sentence(row, names),
        )
        for row in rows
    ]


def _sentence(row: TrailEntry, names: Mapping[Subject, str | Promise]) -> str | Promise:
    kind = PLANNED if row.verb == "recall.planned" else row.subject_kind
    name = names.get((kind, row.subject_id))
    sentence = verbs.sentence(row.verb)
    return sentence if name is None else _about(sentence, name)


def _shade(reading: ShadeReading) -> str:
    which = _("%(tab)s, %(moment)s") % {"tab": reading.tab, "moment": reading.get_moment_display()}
    return _about(verbs.sentence("cases.shade_read"), which)


def _about(sentence: str | Promise, name: str | Promise) -> str:
    return _("%(sentence)s: %(name)s") % {"sentence": sentence, "name": name}


def _of_logs(logs: Iterable[Sequence[Event]]) -> list[Entry]:
    return [Entry(told.at, told.by, told.sentence) for events in logs for told in milestones(events)]


def _in_short(entries: Sequence[Entry]) -> list[Entry]:
    """The same thing by the same person several times in a row is one line: a session is forty taps."""
    short: list[Entry] = []
    for _same, alike in groupby(entries, key=lambda one: (one.actor_name, str(one.sentence))):
        same = list(alike)
        newest = same[0]
        if len(same) > 1:
            times = _("%(sentence)s (%(count)s times)") % {"sentence": newest.sentence, "count": len(same)}
            newest = replace(newest, sentence=times)
        short.append(newest)
    return short
