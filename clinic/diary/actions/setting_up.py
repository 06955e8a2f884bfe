"""What a manager sets up in the diary: rooms, people and lights, their hours, and the visits' segments."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict
from datetime import date, datetime, time

from django.db import IntegrityError, transaction

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.diary.actions.visit_types import write_segments
from clinic.diary.engine.changing import Change, changed
from clinic.diary.engine.working import Pattern, instant
from clinic.diary.locks import lock_resources
from clinic.diary.models import Resource, ResourceKind, VisitCode, VisitType, WorkingPattern
from clinic.diary.outside import Hours, hit_by, read_hours, unknown_to
from clinic.diary.refusals import NameInUse, VisitsOutside
from clinic.diary.standard import VisitPlan, registered
from clinic.diary.waitlist import freed
from clinic.trail.actor import Actor
from clinic.trail.record import record


def add_resource(
    *,
    site: Site,
    kind: ResourceKind,
    name: str,
    user: User,
    actor: Actor,
    person: User | None = None,
    light_kind: str = "",
) -> Resource:
    """A room, a person of this site, or a light. Raises NameInUse."""
    require(user, Capability.SETUP, site)
    try:
        with transaction.atomic():
            resource = Resource.objects.create(
                site=site, kind=kind, name=name, person=person, light_kind=light_kind, position=site.resources.count()
            )
            _record("diary.resource_changed", site, actor, resource.pk, {"name": name, "kind": str(kind)})
    except IntegrityError as error:
        raise NameInUse from error
    return resource


def set_hours(
    *,
    resource: Resource,
    weekdays: Iterable[int],
    from_time: time,
    to_time: time,
    from_on: date,
    user: User,
    actor: Actor,
    pause: tuple[time, time] | None = None,
    until_on: date | None = None,
    every_weeks: int = 1,
) -> list[WorkingPattern]:
    """Replaces the hours of those weekdays from that day on, before until_on; all other days keep what holds there."""
    stretches = ((from_time, to_time),) if pause is None else ((from_time, pause[0]), (pause[1], to_time))
    change = Change(frozenset(weekdays), stretches, from_on, until_on, every_weeks)
    now = _first_moment(resource, change)
    return change_hours(resource=resource, change=change, user=user, actor=actor, now=now)


def end_hours(*, resource: Resource, weekdays: Iterable[int], from_on: date, user: User, actor: Actor) -> None:
    """From that day on nothing is booked on those weekdays."""
    change = Change(frozenset(weekdays), (), from_on)
    now = _first_moment(resource, change)
    change_hours(resource=resource, change=change, user=user, actor=actor, now=now)


def change_hours(
    *,
    resource: Resource,
    change: Change,
    user: User,
    actor: Actor,
    now: datetime,
    agreed: Collection[int] = (),
) -> list[WorkingPattern]:
    """Gives the rows that are new. Visits booked outside the new hours stay, and stand on Today until they are moved.

    agreed: the bookings that were shown as lying outside. Raises VisitsOutside for any other.
    """
    require(user, Capability.SETUP, resource.site)
    with transaction.atomic():
        lock_resources(resource.site)
        rows = list(resource.patterns.all())
        wanted = changed([row.shape for row in rows], change)
        before = read_hours(resource.site, now=now)
        _check_visits(before, before.but(patterns={resource.pk: wanted}), now, agreed)
        made = _keep_patterns(resource, rows, wanted)
        _hours_are_new(resource, change, now)
        values = {
            "weekdays": sorted(change.weekdays),
            "hours": ", ".join(f"{start:%H:%M}-{end:%H:%M}" for start, end in change.stretches),
            "from_on": change.from_on.isoformat(),
            "until_on": change.until_on.isoformat() if change.until_on else "",
            "every_weeks": change.every_weeks,
        }
        _record("diary.hours_changed", resource.site, actor, resource.pk, values)
    return made


def set_visits(
    *,
    resource: Resource,
    visit_types: Collection[int],
    user: User,
    actor: Actor,
    now: datetime,
    agreed: Collection[int] = (),
) -> None:
    """Which kinds of visit a person does, by id; none of the others is offered with that person from now on.

    Raises VisitsOutside for a booked one that nobody has agreed to leave where it is.
    """
    require(user, Capability.SETUP, resource.site)
    with transaction.atomic():
        lock_resources(resource.site)
        others = list(resource.site.visit_types.exclude(pk__in=visit_types))
        before = read_hours(resource.site, now=now)
        after = before.but(refused={(resource.pk, one.pk) for one in others})
        _check_visits(before, after, now, agreed)
        resource.without_visits.set(others)
        freed.stretch_gone(site_id=resource.site_id, starts_at=now, ends_at=None, now=now)
        values = {"name": resource.name, "does_not_do": [one.name for one in others]}
        _record("diary.resource_changed", resource.site, actor, resource.pk, values)


def add_standard_visits(*, site: Site, actor: Actor) -> list[VisitType]:
    """The visits that every practice starts with; a code that the site has already is left as it is."""
    there = set(site.visit_types.values_list("code", flat=True))
    with transaction.atomic():
        made = [_add_visit(site, plan) for plan in registered() if plan.code not in there]
        for visit_type in made:
            _record("diary.visit_type_changed", site, actor, visit_type.pk, {"name": visit_type.name})
    return made


def _hours_are_new(resource: Resource, change: Change, now: datetime) -> None:
    """Some of that stretch may be working time now: the waiting list looks through it."""
    zone, until_on = resource.site.zone, change.until_on
    ends_at = instant(until_on, time(0), zone) if until_on is not None else None
    freed.stretch_gone(
        site_id=resource.site_id, starts_at=instant(change.from_on, time(0), zone), ends_at=ends_at, now=now
    )


def _first_moment(resource: Resource, change: Change) -> datetime:
    return instant(change.from_on, time(0), resource.site.zone)


def _check_visits(before: Hours, after: Hours, now: datetime, agreed: Collection[int]) -> None:
    visits = hit_by(before=before, after=after, now=now)
    if unknown_to(agreed, visits):
        raise VisitsOutside(visits)


def _keep_patterns(resource: Resource, rows: Iterable[WorkingPattern], wanted: list[Pattern]) -> list[WorkingPattern]:
    """Writes what differs: a row that the change leaves as it is stays the same row."""
    gone = [row.pk for row in rows if not _taken_from(wanted, row.shape)]
    resource.patterns.filter(pk__in=gone).delete()
    return WorkingPattern.objects.bulk_create(WorkingPattern(resource=resource, **asdict(one)) for one in wanted)


def _taken_from(wanted: list[Pattern], pattern: Pattern) -> bool:
    if pattern not in wanted:
        return False
    wanted.remove(pattern)
    return True


def _add_visit(site: Site, plan: VisitPlan) -> VisitType:
    visit_type = VisitType.objects.create(
        site=site,
        code=VisitCode(plan.code),
        name=str(plan.name),
        patient_name=str(plan.patient_name),
        patient_may_book=plan.patient_may_book,
    )
    write_segments(visit_type, plan.segments)
    return visit_type


def _record(verb: str, site: Site, actor: Actor, subject_id: int, values: Mapping[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=(verb.split(".")[1], subject_id),
        patient_id=None,
        site_id=site.pk,
        values=values,
    )
