"""When somebody at the practice reads, and on which days somebody works."""

from datetime import UTC, date, datetime

import pytest

from clinic.diary.models import Closure
from tests.cast import NOW, Cast
from tests.whitening.recall import afterwards
from whitening.recall.reading_hours import is_open, reads_at, working_day_after

pytestmark = pytest.mark.django_db
# A Thursday.
DAY_TWO = datetime(2026, 3, 5, 10, 30, tzinfo=UTC)


def test_when_somebody_reads(cast: Cast) -> None:
    """Closures and holidays taken out; a practice without hours reads at once."""
    site = cast.fernbrook
    assert reads_at(site, now=NOW) == NOW
    afterwards.opening_hours(cast)
    assert is_open(site, now=NOW)
    evening = datetime(2026, 3, 3, 19, 0, tzinfo=UTC)
    assert reads_at(site, now=evening) == datetime(2026, 3, 4, 8, 30, tzinfo=UTC)
    Closure.objects.create(
        site=site,
        kind="closed",
        starts_at=datetime(2026, 3, 4, 0, tzinfo=UTC),
        ends_at=datetime(2026, 3, 5, 0, tzinfo=UTC),
    )
    assert reads_at(site, now=evening) == datetime(2026, 3, 5, 8, 30, tzinfo=UTC)
    # Good Friday and Easter Monday of 2026 are public holidays there; summer time began on 29 March.
    site.region = "ENG"
    site.save()
    thursday = datetime(2026, 4, 2, 17, 0, tzinfo=UTC)
    assert reads_at(site, now=thursday) == datetime(2026, 4, 7, 7, 30, tzinfo=UTC)


def test_within_three_days_means_days_on_which_somebody_works(cast: Cast) -> None:
    site = cast.fernbrook
    # Without opening hours days are counted as they come.
    assert working_day_after(DAY_TWO, site, number=3) == date(2026, 3, 8)
    afterwards.opening_hours(cast)
    assert working_day_after(DAY_TWO, site, number=3) == date(2026, 3, 10)
    site.region = "ENG"
    site.save()
    # Easter; the practice is shut on the Wednesday after it as well.
    Closure.objects.create(
        site=site,
        kind="closed",
        starts_at=datetime(2026, 4, 7, 23, tzinfo=UTC),
        ends_at=datetime(2026, 4, 8, 23, tzinfo=UTC),
    )
    assert working_day_after(datetime(2026, 4, 2, 9, 0, tzinfo=UTC), site, number=3) == date(2026, 4, 10)
