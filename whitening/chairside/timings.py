"""From closed sessions to usual lengths, one clinician at a time; and what the diary asks about them."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from clinic.accounts.models import User
from clinic.diary import usual as asked
from clinic.diary.models import Resource, VisitCode, VisitType
from whitening.chairside.log import event_of
from whitening.chairside.models import Session, SessionEvent, UsualTime
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.timing import ENOUGH, NEWEST, READ, Measure, lengths, usual

_READ = [kind.name.lower() for kind in READ]
_COLUMNS = ("minutes", "within", "sessions", "computed_at")


def learn(*, session: Session, clinician: User, now: datetime) -> None:
    """Anew from the newest sessions that this clinician closed here; three queries, whatever the history."""
    resource = Resource.objects.filter(site=session.site_id, person=clinician).first()
    if resource is None:
        return
    values = _measured(session, clinician)
    UsualTime.objects.bulk_create(
        (_row(resource, measure, found, now) for measure, found in values.items() if found),
        update_conflicts=True,
        unique_fields=("resource", "measure"),
        update_fields=_COLUMNS,
    )


def _measured(session: Session, clinician: User) -> dict[Measure, list[float]]:
    closed = Session.objects.filter(site=session.site_id, closed_by=clinician, closed_at__isnull=False)
    sessions = list(closed.select_related("plan").order_by("-closed_at", "-pk")[:NEWEST])
    logs = _logs(one.pk for one in sessions)
    found: dict[Measure, list[float]] = {measure: [] for measure in Measure}
    for one in sessions:
        spans = lengths(
            logs.get(one.pk, ()),
            opened_at=one.opened_at,
            closed_at=one.closed_at or one.opened_at,
            planned_minutes=one.plan.minutes_per_cycle,
        )
        for measure, minutes in spans.items():
            found[measure].append(minutes)
    return found


def _logs(sessions: Iterable[int]) -> dict[int, list[Event]]:
    rows = SessionEvent.objects.filter(session__in=list(sessions), kind__in=_READ)
    logs: dict[int, list[Event]] = {}
    for row in rows.order_by("session", "seq"):
        logs.setdefault(row.session_id, []).append(event_of(row))
    return logs


def _row(resource: Resource, measure: Measure, values: Sequence[float], now: datetime) -> UsualTime:
    made = usual(values, measure)
    return UsualTime(
        resource=resource,
        measure=measure.value,
        minutes=made.minutes,
        within=made.within,
        sessions=made.sessions,
        computed_at=now,
    )


class ChairsideLengths:
    """What the diary asks: which stretches a whitening session tells about, and whose usual lengths are known."""

    def measures(self, code: str) -> Sequence[asked.Measure]:
        if code != VisitCode.TREATMENT:
            return ()
        return [asked.Measure(one.value, str(one.label)) for one in Measure]

    def usual(self, visit_type: VisitType, person: int | None) -> Sequence[asked.Usual]:
        if visit_type.code != VisitCode.TREATMENT:
            return ()
        rows = UsualTime.objects.filter(resource__site=visit_type.site_id, resource__active=True)
        rows = rows.exclude(resource__without_visits=visit_type) if person is None else rows.filter(resource=person)
        return [
            asked.Usual(
                row.resource.name,
                row.measure,
                row.minutes,
                row.within,
                row.sessions,
                enough=row.sessions >= ENOUGH,
                on_top=row.measure == Measure.CYCLE,
            )
            for row in rows.select_related("resource").order_by("resource__name", "resource", "measure")
        ]
