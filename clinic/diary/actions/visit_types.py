"""What a manager sets up about a kind of visit: its segments, and what patients may pick alone."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import timedelta

from django.db import transaction

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary.local_rules import rulings
from clinic.diary.models import LONGEST, Segment, SegmentNeed, VisitType
from clinic.diary.refusals import AgainstLocalRules, KindChangedMeanwhile, LearnedTwice, NoSegment, TooLongForADay
from clinic.diary.segments import MOST_CYCLES, laid_out
from clinic.diary.standard import SegmentPlan
from clinic.trail.actor import Actor
from clinic.trail.record import record


@dataclass(frozen=True, slots=True)
class PatientRules:
    """What patients read and may do alone: at most so many days ahead, at least so many hours before the visit."""

    name: str
    may_book: bool
    days_ahead: int
    notice_hours: int
    may_move: bool = True


def set_segments(
    *, visit_type: VisitType, segments: Sequence[SegmentPlan], version: int, user: User, actor: Actor
) -> VisitType:
    """Gives the visit these segments, in this order. Visits that are booked already keep their length and claims.

    version: the one that was on the page. Raises KindChangedMeanwhile, and what `check_segments` raises.
    """
    require(user, Capability.SETUP, visit_type.site)
    check_segments(visit_type, segments)
    with transaction.atomic():
        fresh = _held(visit_type, version)
        fresh.segments.all().delete()
        write_segments(fresh, segments)
        values = {"segments": [[str(one.name), one.minutes, [need for need, _only in one.needs]] for one in segments]}
        _changed(fresh, (), actor, values)
    return fresh


def check_segments(visit_type: VisitType, segments: Sequence[SegmentPlan]) -> None:
    """Raises NoSegment, LearnedTwice, TooLongForADay or AgainstLocalRules."""
    if not segments:
        raise NoSegment
    learned = [one.measured_as for one in segments if one.measured_as]
    if len(learned) > len(set(learned)):
        raise LearnedTwice
    if timedelta(minutes=laid_out(segments, cycles=MOST_CYCLES).minutes) > LONGEST / 2:
        raise TooLongForADay
    for ruling in rulings(visit_type.site, visit_type.code, segments):
        if not ruling.allowed:
            raise AgainstLocalRules(rule=ruling.sentence)


def let_patients_book(
    *, visit_type: VisitType, rules: PatientRules, version: int, user: User, actor: Actor
) -> VisitType:
    """Holds for what patients pick from now on; what they have booked already stays.

    version: the one that was on the page. Raises KindChangedMeanwhile.
    """
    require(user, Capability.SETUP, visit_type.site)
    with transaction.atomic():
        fresh = _held(visit_type, version)
        changed = {f"patient_{name}": value for name, value in asdict(rules).items()}
        for name, value in changed.items():
            setattr(fresh, name, value)
        _changed(fresh, changed, actor, changed)
    return fresh


def _held(visit_type: VisitType, version: int) -> VisitType:
    """Locked: whoever else changes it waits, and is told then."""
    rows = VisitType.objects.select_for_update(no_key=True, of=("self",)).select_related("site")
    fresh = rows.get(pk=visit_type.pk)
    if fresh.version != version:
        raise KindChangedMeanwhile
    return fresh


def write_segments(visit_type: VisitType, segments: Iterable[SegmentPlan]) -> None:
    """In the caller's transaction, for a visit that has none yet."""
    for position, plan in enumerate(segments):
        segment = Segment.objects.create(
            visit_type=visit_type,
            position=position,
            name=str(plan.name),
            minutes=plan.minutes,
            per_cycle=plan.per_cycle,
            basis=plan.basis,
            measured_as=plan.measured_as,
        )
        SegmentNeed.objects.bulk_create(
            SegmentNeed(segment=segment, need=need, only_with_light=only_with_light)
            for need, only_with_light in plan.needs
        )


def _changed(visit_type: VisitType, fields: Iterable[str], actor: Actor, values: Mapping[str, object]) -> None:
    visit_type.version += 1
    visit_type.save(update_fields=[*fields, "version"])
    record(
        verb="diary.visit_type_changed",
        actor=actor,
        subject=("visit_type_changed", visit_type.pk),
        patient_id=None,
        site_id=visit_type.site_id,
        values=values,
    )
