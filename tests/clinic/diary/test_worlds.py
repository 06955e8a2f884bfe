"""What the diary offers in small practices made up at random: what trying every minute finds, and a solver."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction

from clinic.accounts.models import Site, User
from clinic.diary.engine.wishes import Wishes
from clinic.diary.models import (
    Booking,
    Closure,
    Need,
    Resource,
    ResourceClaim,
    Segment,
    SegmentNeed,
    Status,
    VisitCode,
    VisitType,
    WorkingPattern,
)
from clinic.diary.openings import Openings, Wanted, find
from tests.cast import NOW, Cast
from tests.clinic.diary import solving, worlds
from tests.clinic.diary.inventing import invent
from tests.clinic.diary.worlds import Visit, World

NO_LIMIT = 10**6
HELD_UNTIL = {"held": timedelta(minutes=1), "hold ran out": timedelta(0)}


class Settled:
    """A world as rows, at Fernbrook."""

    def __init__(self, cast: Cast, world: World) -> None:
        self.cast, self.world = cast, world
        Site.objects.filter(pk=cast.fernbrook.pk).update(timezone=world.zone)
        self.site = Site.objects.get(pk=cast.fernbrook.pk)
        self.things = {one.name: one for one in Resource.objects.filter(site=self.site)}
        self.moved: int | None = None
        self._resources()
        self.visit_type = self._visit_type()
        for name in world.does_not_do_it:
            self.things[name].without_visits.add(self.visit_type)
        self._visits()

    def find(self) -> Openings:
        world = self.world
        wanted = Wanted(
            self.visit_type,
            world.cycles,
            world.light_kind,
            self.things[world.person].pk if world.person else None,
            Wishes(world.weekdays, world.not_before, world.over_by),
            without_booking=self.moved,
            now=NOW,
        )
        earliest_at, latest_at = world.earliest_at, world.latest_at
        return find(site=self.site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at, limit=NO_LIMIT)

    def _resources(self) -> None:
        WorkingPattern.objects.all().delete()
        WorkingPattern.objects.bulk_create(
            WorkingPattern(resource=self.things[name], **vars(one))
            for name, some in self.world.hours.items()
            for one in some
        )
        Closure.objects.bulk_create(
            Closure(site=self.site, kind="training", resource=self.things.get(name), starts_at=start, ends_at=end)
            for name, (start, end) in self.world.closed
        )
        Resource.objects.filter(name__in=self.world.not_bookable).update(active=False)
        for name, last_on in self.world.last_on.items():
            User.objects.filter(name=name).update(registration_expires_on=last_on)

    def _visit_type(self) -> VisitType:
        made = VisitType.objects.create(site=self.site, code=VisitCode.OTHER, name="Made up")
        segments = Segment.objects.bulk_create(
            Segment(visit_type=made, position=n, name=f"{n}", minutes=one.minutes, per_cycle=one.per_cycle)
            for n, one in enumerate(self.world.pieces)
        )
        SegmentNeed.objects.bulk_create(
            SegmentNeed(segment=segment, need=need, only_with_light=need == "light_any" and piece.only_with_light)
            for segment, piece in zip(segments, self.world.pieces, strict=True)
            for need in piece.needs
        )
        return made

    def _visits(self) -> None:
        kept = Booking.objects.bulk_create(self._booking(one) for one in self.world.visits)
        ResourceClaim.objects.bulk_create(
            ResourceClaim(
                booking=booking,
                resource=self.things[visit.name],
                need=Need.ROOM,
                segment="another",
                start_at=visit.times[0],
                end_at=visit.times[1],
                active=visit.kind != "cancelled",
            )
            for booking, visit in zip(kept, self.world.visits, strict=True)
        )
        self.moved = next((one.pk for one, of in zip(kept, self.world.visits, strict=True) if of.kind == "moved"), None)

    def _booking(self, visit: Visit) -> Booking:
        status = Status.PENDING if visit.kind in HELD_UNTIL else Status.BOOKED
        wall = visit.times[0].astimezone(ZoneInfo(self.world.zone))
        return Booking(
            site=self.site,
            patient=self.cast.patient,
            visit_type=self.visit_type,
            status=Status.CANCELLED if visit.kind == "cancelled" else status,
            # Fitted to other cycles than it was booked with, so it is planned anew.
            cycles=self.world.cycles + (visit.kind == "moved"),
            wall_on=wall.date(),
            wall_time=wall.time(),
            zone=self.world.zone,
            starts_at=visit.times[0],
            ends_at=visit.times[1],
            lapses_at=NOW + HELD_UNTIL[visit.kind] if visit.kind in HELD_UNTIL else None,
            cancelled_at=NOW if visit.kind == "cancelled" else None,
            booked_at=NOW,
        )


@contextmanager
def settled(cast: Cast, world: World) -> Iterator[Settled]:
    with transaction.atomic():
        yield Settled(cast, world)
        transaction.set_rollback(True)


@pytest.mark.soak
def test_as_trying_every_minute_finds(practice: Cast, size: Callable[[int], int], note: Callable[..., None]) -> None:
    """The same starts, and at each of them somebody who really is free."""
    with_some = several = 0
    for number in range(size(2000)):
        world = invent(number)
        with settled(practice, world) as house:
            found = house.find().found
        assert [worlds.minute(one.start_at) for one in found] == worlds.starts(world), f"world {number}"
        length, claimed = worlds.shape(world)
        free = {name: worlds.free_minutes(world, name) for name in worlds.NAMES}
        for one in found:
            who = {need: chosen.name for need, chosen in one.chosen.items()}
            assert all(name in worlds.candidates(world, need) for need, name in who.items())
            assert worlds.fits(claimed, free, worlds.minute(one.start_at), who), f"world {number}"
            assert one.end_at - one.start_at == timedelta(minutes=length)
        with_some += bool(found)
        several += len(found)
    note(worlds=size(2000), with_openings=with_some, openings=several)
    # Neither were all of them full, nor all of them empty.
    assert size(2000) // 4 < with_some < size(2000)


@pytest.mark.soak
def test_as_a_constraint_solver_finds(practice: Cast, size: Callable[[int], int], note: Callable[..., None]) -> None:
    with_some = 0
    for number in range(size(200)):
        world = invent(number)
        with settled(practice, world) as house:
            found = [worlds.minute(one.start_at) for one in house.find().found]
        first, every = solving.starts(world)
        assert found[:1] == [one for one in [first] if one is not None], f"world {number}"
        assert set(found) == every, f"world {number}"
        with_some += bool(found)
    note(worlds=size(200), with_openings=with_some)
    assert size(200) // 4 < with_some < size(200)
