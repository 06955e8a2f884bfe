"""When a room or a person cannot be booked, and the words for it. Two queries, however many they are."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.utils.translation import gettext as _

from clinic.accounts.models import Site
from clinic.diary.day import Shut
from clinic.diary.engine.spans import Span, common, merged, to_instant, to_minute, to_minute_up, without
from clinic.diary.engine.working import instant, working_spans
from clinic.diary.models import Closure, ClosureKind, WorkingPattern


@dataclass(slots=True)
class Hours:
    """Working time of one resource over some days, and when it is closed although it would work."""

    working: Sequence[Span] = ()
    closed: list[tuple[Span, str]] = field(default_factory=list)

    def within(self, start_at: datetime, end_at: datetime) -> list[Span]:
        return common(self.working, [(to_minute(start_at), to_minute(end_at))])

    def open_within(self, start_at: datetime, end_at: datetime) -> list[Span]:
        """Working time without what is closed."""
        return without(self.within(start_at, end_at), (span for span, _words in self.closed))

    def shut(self, start_at: datetime, end_at: datetime) -> list[Shut]:
        """A closure says why, also where nobody would work anyway."""
        whole = [(to_minute(start_at), to_minute(end_at))]
        found = [(span, _("outside working hours")) for span in without(whole, self.working)]
        found += [(span, words) for closed, words in self.closed for span in common([closed], whole)]
        return [Shut(to_instant(start), to_instant(end), words) for (start, end), words in found]


def read_hours(site: Site, ids: Collection[int], *, first_on: date, days: int) -> Mapping[int, Hours]:
    last_on, patterns = first_on + timedelta(days=days), WorkingPattern.objects.filter(resource__in=ids).by_resource()
    found = {
        pk: Hours(merged(working_spans(patterns.get(pk, ()), first_on=first_on, days=days, zone=site.zone)))
        for pk in ids
    }
    for resource_id, span, words in _closures(site, first_on, last_on):
        for pk in [resource_id] if resource_id else found:
            if pk in found:
                found[pk].closed.append((span, words))
    return found


def _closures(site: Site, first_on: date, last_on: date) -> Iterable[tuple[int | None, Span, str]]:
    start_at, end_at = instant(first_on, time(0), site.zone), instant(last_on, time(0), site.zone)
    rows = Closure.objects.filter(site=site, starts_at__lt=end_at, ends_at__gt=start_at)
    for closure in rows:
        yield closure.resource_id, (to_minute(closure.starts_at), to_minute_up(closure.ends_at)), _words(closure)


def _words(closure: Closure) -> str:
    """Why somebody is on leave is nobody's business on a page that stands open at the desk."""
    kind = str(closure.get_kind_display())
    if not closure.reason or closure.kind == ClosureKind.LEAVE:
        return kind
    return _("%(kind)s: %(reason)s") % {"kind": kind, "reason": closure.reason}
