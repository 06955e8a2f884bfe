"""The database counts minutes as the engine does."""

from datetime import timedelta
from itertools import product

from clinic.diary.engine.spans import to_minute, to_minute_up
from clinic.diary.minutes import MinuteOf, MinuteUpOf
from clinic.diary.models import ResourceClaim
from tests.cast import Cast
from tests.clinic.diary.house import at, book


def test_whole_and_broken_minutes(diary: Cast) -> None:
    claim = book(diary, at(9)).claims.all()[0]
    for year, seconds in product((1970, 2026, 2199), (0, 0.000001, 0.5, 1, 29.999999, 59, 59.5)):
        start_at = at(9).replace(year=year) + timedelta(seconds=seconds)
        end_at = start_at + timedelta(minutes=5)
        ResourceClaim.objects.filter(pk=claim.pk).update(start_at=start_at, end_at=end_at)
        found = ResourceClaim.objects.filter(pk=claim.pk).values_list(
            MinuteOf("start_at"), MinuteUpOf("start_at"), MinuteUpOf("end_at")
        )
        assert found.get() == (to_minute(start_at), to_minute_up(start_at), to_minute_up(end_at)), start_at
