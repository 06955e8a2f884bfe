"""Openings as the database knows them: what is offered, what is not, and why there is none."""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.accounts.models import Site
from clinic.diary import actions
from clinic.diary.models import Closure, Need, Resource, ResourceKind, Segment, VisitCode, VisitType, WorkingPattern
from clinic.diary.openings import Opening, Openings, Search, Wanted, find, visit_shape
from tests.cast import NOW, Cast, actor_of
from tests.clinic.diary.house import DAY, another_patient, at, book, resource, visit
from tests.clinic.diary.ics import NIGHTS
from tests.clinic.diary.worlds import instant, when

CONSULTATION, TREATMENT = VisitCode.CONSULTATION, VisitCode.TREATMENT

NINE = at(9)


def look(cast: Cast, code: str = CONSULTATION, *, start: datetime = NINE, days: float = 1, **wanted: Any) -> Openings:
    limit = wanted.pop("limit", 8)
    return find(
        site=cast.fernbrook,
        wanted=Wanted(visit(code), **wanted),
        earliest_at=start,
        latest_at=start + timedelta(days=days),
        limit=limit,
    )


def starts(found: Openings) -> list[str]:
    return [f"{one.start_at:%H:%M}" for one in found.found]


def names(opening: Opening) -> dict[str, str]:
    return {need: one.name for need, one in opening.chosen.items()}


def test_a_length_is_computed_from_the_planned_cycles(diary: Cast) -> None:
    """Set-up 10, start and barrier 25, four cycles of 20, finish 15, turn-round 10 (common practice, no source)."""
    assert diary.fernbrook.visit_types.count() == 7
    assert visit_shape(Wanted(visit(TREATMENT), 4)).minutes == 140
    assert visit_shape(Wanted(visit(TREATMENT), 3)).minutes == 120
    assert visit_shape(Wanted(visit(CONSULTATION), 4)).minutes == 35


def test_it_works(diary: Cast) -> None:
    found = look(diary)
    assert starts(found) == ["09:00", "09:15", "09:30", "09:45", "10:00", "10:15", "10:30", "10:45"]
    assert found.found[0].end_at == at(9, 35)
    assert names(found.found[0]) == {Need.ROOM: "Willow", Need.EXAMINER: "Cleo Haddad"}


def test_the_last_one_ends_with_the_hours(diary: Cast) -> None:
    assert starts(look(diary, start=at(16), limit=50))[:3] == ["16:00", "16:15", "09:00"]
    assert starts(look(diary, TREATMENT, start=at(14), cycles=4, days=0.4)) == ["14:00", "14:15", "14:30"]


@pytest.mark.parametrize(
    ("light", "lamp"), [("hand_held", "Lamp 1"), ("arch", "Arch 1"), ("any", {"Lamp 1", "Arch 1"}), ("", None)]
)
def test_a_light_is_claimed_when_the_plan_uses_one(diary: Cast, light: str, lamp: object) -> None:
    chosen = names(look(diary, TREATMENT, cycles=4, light_kind=light).found[0])
    lamps = [name for need, name in chosen.items() if need.startswith("light")]
    assert lamps == [] if lamp is None else lamps == [lamp] or lamps[0] in lamp  # type: ignore[operator]


def test_what_is_booked_is_not_offered_twice(diary: Cast) -> None:
    book(diary, at(9))
    book(diary, at(9), patient=another_patient(diary))
    # Two rooms, two clinicians: a third consultation starts when the first ones have left.
    assert starts(look(diary))[0] == "09:45"
    assert names(look(diary).found[0])[Need.ROOM] == "Willow"


def test_without_the_claims_of_others(diary: Cast) -> None:
    for number in range(2):
        book(diary, at(9), patient=another_patient(diary, number))
    search = Search(site=diary.fernbrook, wanted=Wanted(visit()), day=DAY)
    assert search.exactly(at(9)) is None
    empty = search.exactly(at(9), claims=False)
    assert empty is not None
    assert empty.end_at == at(9, 35)


def test_a_visit_that_is_moved_does_not_stand_in_its_own_way(diary: Cast) -> None:
    mine = book(diary, at(9))
    book(diary, at(9), patient=another_patient(diary))
    assert starts(look(diary, without_booking=mine.pk))[0] == "09:00"


def test_only_with_this_person(diary: Cast) -> None:
    person = resource("Bo Lindqvist").pk
    assert names(look(diary, person=person).found[0])[Need.EXAMINER] == "Bo Lindqvist"
    book(diary, at(9), person=person)
    assert starts(look(diary, person=person))[0] == "09:30"  # turn-round holds the room only
    assert starts(look(diary))[0] == "09:00"


def test_a_closed_day_and_one_person_away(diary: Cast) -> None:
    Closure.objects.create(site=diary.fernbrook, kind="closed", starts_at=at(9), ends_at=at(12))
    assert starts(look(diary))[0] == "12:00"
    away = resource("Cleo Haddad")
    Closure.objects.create(site=diary.fernbrook, kind="leave", resource=away, starts_at=at(12), ends_at=at(13))
    assert names(look(diary).found[0])[Need.EXAMINER] == "Bo Lindqvist"


def test_nothing_is_offered_before_the_earliest_moment(diary: Cast) -> None:
    assert starts(look(diary, start=at(9, 1)))[0] == "09:15"
    assert starts(look(diary, start=at(9, 14) + timedelta(seconds=59, microseconds=1)))[0] == "09:15"


def test_no_start_falls_between_two_weeks_of_the_search(diary: Cast) -> None:
    """The search goes week by week; with seconds in `now`, the minute at which two weeks meet once was in neither."""
    WorkingPattern.objects.all().delete()
    for one in Resource.objects.all():
        WorkingPattern.objects.create(
            resource=one, weekday=DAY.weekday(), from_time=time(10), to_time=time(10, 35), from_on=date(2026, 3, 11)
        )
    found = look(diary, start=at(10) + timedelta(seconds=30), days=8)
    assert [one.start_at for one in found.found] == [at(10) + timedelta(days=7)]


@pytest.mark.parametrize("field", ["registration_expires_on", "indemnity_expires_on"])
def test_nobody_is_offered_after_registration_or_indemnity_has_ended(diary: Cast, field: str) -> None:
    setattr(diary.clinician, field, DAY)
    diary.clinician.save()
    person = resource("Cleo Haddad").pk
    found = look(diary, person=person, days=30, limit=200)
    assert {one.start_at.date() for one in found.found} == {DAY}
    # What is offered can be booked, and what is not cannot.
    book(diary, found.found[-1].start_at, person=person)
    with pytest.raises(actions.OutsideOpeningHours):
        book(diary, at(9, day=DAY + timedelta(days=1)), person=person)


@pytest.mark.parametrize(("zone", "night"), NIGHTS)
def test_a_clock_change_moves_no_opening_on_the_wall(diary: Cast, zone: str, night: date) -> None:
    """Nine stays nine, a week before and after the night, whatever it is in Greenwich."""
    Site.objects.filter(pk=diary.fernbrook.pk).update(timezone=zone)
    diary.fernbrook.refresh_from_db()
    for one in Resource.objects.all():
        WorkingPattern.objects.create(
            resource=one, weekday=night.weekday(), from_time=time(9), to_time=time(10), from_on=date(2026, 1, 1)
        )
    starts_at = []
    for day in (night - timedelta(days=7), night, night + timedelta(days=7)):
        nine = instant(when(zone, day, time(9)))
        # From so long before that the clock changes within the search.
        first = look(diary, start=nine - timedelta(hours=9)).found[0]
        assert first.start_at == nine
        booking = book(diary, nine, tell=False, now=nine)
        assert (booking.wall_on, booking.wall_time, booking.zone) == (day, time(9), zone)
        starts_at.append(booking.starts_at)
    assert starts_at[1] - starts_at[0] != timedelta(days=7)
    assert starts_at[2] - starts_at[1] == timedelta(days=7)


REASONS = {
    ResourceKind.ROOM: "no room is free long enough",
    ResourceKind.PERSON: "no clinician who may examine and decide is free long enough",
}


@pytest.mark.parametrize(("kind", "reason"), REASONS.items())
def test_why_there_is_none(diary: Cast, kind: str, reason: str) -> None:
    Resource.objects.filter(kind=kind).update(active=False)
    found = look(diary, days=14)
    assert found.found == []
    assert [str(one) for one in found.reasons] == [reason]


@pytest.mark.parametrize(
    ("change", "code", "light", "reason"),
    [
        ("Lamp 1", TREATMENT, "hand_held", "no hand-held light is free long enough"),
        ("Arch 1", TREATMENT, "arch", "no arch light is free long enough"),
        ("%", TREATMENT, "any", "no light is free long enough"),
    ],
)
def test_why_there_is_no_light(diary: Cast, change: str, code: str, light: str, reason: str) -> None:
    lamps = Resource.objects.filter(kind=ResourceKind.LIGHT)
    (lamps if change == "%" else lamps.filter(name=change)).update(active=False)
    assert [str(one) for one in look(diary, code, cycles=4, light_kind=light).reasons] == [reason]


def test_who_may_not_decide_is_no_examiner(diary: Cast) -> None:
    for user in (diary.clinician, resource("Bo Lindqvist").person):
        assert user is not None
        user.may_examine_and_decide = False
        user.save()
    assert [str(one) for one in look(diary).reasons] == [REASONS[ResourceKind.PERSON]]
    # Carrying out a treatment that somebody else has decided is another right.
    assert look(diary, TREATMENT, cycles=4).found


def test_an_assistant_is_somebody_with_that_role(diary: Cast) -> None:
    diary.fernbrook.memberships.filter(role="assistant").delete()
    found = look(diary, TREATMENT, cycles=4)
    assert [str(one) for one in found.reasons] == ["no assistant is free long enough"]


def test_free_times_that_do_not_meet(diary: Cast) -> None:
    WorkingPattern.objects.filter(resource__kind=ResourceKind.ROOM).update(to_time=time(12))
    WorkingPattern.objects.filter(resource__kind=ResourceKind.PERSON).update(from_time=time(12))
    assert [str(one) for one in look(diary).reasons] == ["what it needs is free, but never at the same time"]


def test_a_visit_without_a_length_is_never_offered(diary: Cast) -> None:
    empty = VisitType.objects.create(site=diary.fernbrook, code=VisitCode.OTHER, name="Photographs")
    found = find(site=diary.fernbrook, wanted=Wanted(empty), earliest_at=at(9), latest_at=at(17))
    assert found.found == []
    assert "no length yet" in str(found.reasons[0])
    with pytest.raises(actions.OutsideOpeningHours):
        actions.book(
            site=diary.fernbrook,
            request=actions.BookingRequest(diary.patient, empty, at(9)),
            actor=actor_of(diary.desk),
            now=NOW,
        )
    # A segment that claims nothing holds nobody's time either.
    Segment.objects.create(visit_type=empty, position=0, name="Talk", minutes=10)
    assert find(site=diary.fernbrook, wanted=Wanted(empty), earliest_at=at(9), latest_at=at(17)).found == []


@pytest.mark.parametrize("visits", [1, 12])
def test_queries_do_not_grow_with_the_visits(diary: Cast, visits: int) -> None:
    for number in range(visits):
        book(
            diary,
            at(9) + timedelta(days=number // 6 * 7, minutes=45 * (number % 6)),
            tell=False,
            patient=another_patient(diary, number),
        )
    with CaptureQueriesContext(connection) as asked:
        look(diary, start=at(16), days=1)
    # The visit, its segments with their needs; resources, roles, hours; claims and closures of one week.
    assert len(asked) == 7
