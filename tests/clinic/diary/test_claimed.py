"""What is claimed comes as few stretches of whole minutes, counted as the engine counts them."""

from datetime import datetime, timedelta
from itertools import product

from clinic.diary.claimed import claimed
from clinic.diary.engine.spans import merged, to_minute, to_minute_up
from clinic.diary.models import ResourceClaim
from tests.cast import Cast
from tests.clinic.diary.house import at, book

MOMENT = timedelta(microseconds=1)


def test_whole_and_broken_minutes(diary: Cast) -> None:
    claim = book(diary, at(9)).claims.all()[0]
    for year, seconds in product((1970, 2026, 2199), (0, 0.000001, 0.5, 1, 29.999999, 59, 59.5)):
        start_at = at(9).replace(year=year) + timedelta(seconds=seconds)
        end_at = start_at + timedelta(minutes=5)
        ResourceClaim.objects.filter(pk=claim.pk).update(start_at=start_at, end_at=end_at)
        found = claimed([claim.resource_id], start_at, end_at)
        assert found == {claim.resource_id: [(to_minute(start_at), to_minute_up(end_at))]}, start_at


def test_visits_that_follow_one_another_are_one_stretch(diary: Cast) -> None:
    first = book(diary, at(9)).claims.all()[0]
    ResourceClaim.objects.filter(booking=first.booking).exclude(pk=first.pk).delete()
    times = [(0, 20), (20, 40), (40, 41), (60, 90), (91, 100), (100, 200)]
    ResourceClaim.objects.filter(pk=first.pk).update(**between(-30, -10))
    for start, end in reversed(times):
        copy(first, start, end)
    gone = copy(first, 41, 60)
    ResourceClaim.objects.filter(pk=gone.pk).update(active=False)
    nine = to_minute(at(9))
    everything = claimed([first.resource_id], at(8), at(17))
    assert everything == {
        first.resource_id: [(nine + a, nine + b) for a, b in [(-30, -10), (0, 41), (60, 90), (91, 200)]]
    }
    # Only what touches the window, both of whose ends are open to what merely meets them.
    assert claimed([first.resource_id], *between(41, 60).values()) == {}
    whole = claimed([first.resource_id], *between(30, 95).values())
    assert whole == {first.resource_id: [(nine + a, nine + b) for a, b in [(20, 41), (60, 90), (91, 100)]]}
    assert claimed([first.resource_id], at(8), at(17), without=[first.booking_id]) == {}


def test_part_of_a_minute_between_two_visits_is_no_gap(diary: Cast) -> None:
    first = book(diary, at(9)).claims.all()[0]
    ResourceClaim.objects.filter(booking=first.booking).exclude(pk=first.pk).delete()
    ResourceClaim.objects.filter(pk=first.pk).update(start_at=at(9), end_at=at(9, 20) + MOMENT)
    second = copy(first, 30, 40)
    ResourceClaim.objects.filter(pk=second.pk).update(start_at=at(9, 20) + 2 * MOMENT)
    found = claimed([first.resource_id], at(8), at(17))[first.resource_id]
    assert merged(found) == [(to_minute(at(9)), to_minute(at(9, 40)))]


def between(start: int, end: int) -> dict[str, datetime]:
    return {"start_at": at(9) + timedelta(minutes=start), "end_at": at(9) + timedelta(minutes=end)}


def copy(claim: ResourceClaim, start: int, end: int) -> ResourceClaim:
    return ResourceClaim.objects.create(
        booking=claim.booking, resource=claim.resource, need=claim.need, segment=claim.segment, **between(start, end)
    )
