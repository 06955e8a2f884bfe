"""What happened in a case, as one list: the trail of the patient and, for those at the chair, each session's log."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from clinic.accounts.dates import moment_words
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.trail import verbs
from clinic.trail.models import TrailEntry
from whitening.cases.models import Case
from whitening.chairside.protocol.events import Event
from whitening.chairside.told import milestones
from whitening.recall.models import FollowUp, FollowUpKind

MOST = 400
# One tap at the chair is one entry of the trail; the log says what was tapped.
_TAPPED = "chairside.recorded"


@dataclass(frozen=True, slots=True)
class Entry:
    at: datetime
    actor_name: str
    sentence: str | Promise


def timeline(case: Case, *, user: User, logs: Mapping[int, Sequence[Event]]) -> list[Entry]:
    """Since the case was opened, the newest first. Clinical values only for those who work at the chair."""
    reads_logs = may(user, Capability.CHAIRSIDE_RECORD, case.site)
    entries = _of_trail(case, without=_TAPPED if reads_logs else "")
    if reads_logs:
        entries += _of_logs(logs.values())
    # The case is opened a moment after its patient is chosen.
    first_at = case.opened_at - timedelta(minutes=1)
    return _in_short(sorted((one for one in entries if one.at >= first_at), key=lambda one: one.at, reverse=True))


def _of_trail(case: Case, *, without: str) -> list[Entry]:
    rows = TrailEntry.objects.of_patient(case.patient_id).exclude(verb=without).order_by("-pk")[:MOST]
    follow_ups = {str(one.pk): one for one in FollowUp.objects.filter(case=case)}
    return [
        Entry(
            row.at + timedelta(seconds=row.clock_shift_seconds),
            _("the patient") if row.actor_kind == "patient" else row.actor_name,
            _sentence(row, follow_ups.get(row.subject_id) if row.subject_kind == "follow_up" else None),
        )
        for row in rows
    ]


def _sentence(row: TrailEntry, follow_up: FollowUp | None) -> str | Promise:
    """Of a follow-up, also which one, and when it was planned for: a call on the next day is looked for here."""
    sentence = verbs.sentence(row.verb)
    if follow_up is None:
        return sentence
    about = {"sentence": sentence, "kind": follow_up.get_kind_display(), "moment": moment_words(follow_up.due_at)}
    if row.verb != "recall.planned":
        return _("%(sentence)s: %(kind)s") % about
    if follow_up.kind == FollowUpKind.REVIEW:
        # The review itself has its window; what is due is that the patient is asked to pick a day.
        return _("%(sentence)s: %(kind)s, invitation on %(moment)s") % about
    return _("%(sentence)s: %(kind)s, %(moment)s") % about


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
