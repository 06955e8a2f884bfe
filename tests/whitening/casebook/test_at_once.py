"""Two desks, or a desk and a patient, give times to the same patient at the same moment: the second looks again.

What the other one did is done here just before the patient's row is locked, as if its commit had been waited for.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from unittest.mock import patch

import pytest

from clinic.diary import actions as diary
from clinic.diary import locks
from clinic.diary.models import VisitType
from clinic.diary.refusals import OutsideOpeningHours
from tests.cast import NOW, Cast, actor_of
from tests.support import nothing_written
from tests.whitening.casebook import lived
from tests.whitening.casebook.lived import Lived
from whitening.casebook.actions import OutOfStep, VisitWish, book_course, book_visit, hold_visit
from whitening.cases.models import VisitPurpose
from whitening.recall.visits import TooEarlyForReview

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
SESSION, REVIEW = VisitPurpose.SESSION, VisitPurpose.REVIEW


@contextmanager
def meanwhile(do: Callable[[], object]) -> Iterator[None]:
    """The first lock of the patient waits for it; on SQLite the transaction itself is the lock."""
    ahead, lock = [do], locks._lock

    def wait(sql: str, pk: int) -> list[tuple[object, ...]]:
        if ahead and "clinic_patients_patient" in sql:
            ahead.pop()()
        return lock(sql, pk)

    with patch.object(locks, "_lock", wait):
        yield
    assert not ahead, "nobody locked the patient"


@pytest.fixture
def life(cast: Cast) -> Lived:
    """A session next week, and nothing else."""
    found = lived.called(cast, at=NOW)
    found.session = lived.book(found, SESSION, earliest_at=NOW + timedelta(days=7), at=NOW)
    return found


def session_moves(life: Lived, *, days: int) -> Callable[[], object]:
    assert life.session is not None
    booking = lived.fresh(life.session)
    start_at = booking.starts_at + timedelta(days=days)
    return lambda: diary.move(booking=booking, start_at=start_at, actor=actor_of(life.cast.assistant), now=NOW)


def test_a_review_that_is_moved_while_its_session_moves(life: Lived) -> None:
    review = lived.fresh(lived.book(life, REVIEW, earliest_at=NOW + timedelta(days=42), at=NOW))
    with nothing_written(), pytest.raises(TooEarlyForReview), meanwhile(session_moves(life, days=14)):
        diary.move(
            booking=review, start_at=review.starts_at + timedelta(days=1), actor=actor_of(life.cast.desk), now=NOW
        )


@pytest.mark.parametrize("give", [book_visit, hold_visit])
def test_a_review_that_is_booked_while_its_session_moves(life: Lived, give: Callable[..., object]) -> None:
    wish = VisitWish(REVIEW, NOW + timedelta(days=35))
    with nothing_written(), pytest.raises(TooEarlyForReview), meanwhile(session_moves(life, days=14)):
        give(case=life.case, wish=wish, actor=actor_of(life.cast.desk), now=NOW)


def test_a_course_that_is_booked_while_a_session_moves(life: Lived) -> None:
    wishes = [VisitWish(SESSION, NOW + timedelta(days=15))]
    with nothing_written(), pytest.raises(OutOfStep), meanwhile(session_moves(life, days=6)):
        book_course(case=life.case, wishes=wishes, actor=actor_of(life.cast.desk), now=NOW)


def test_a_session_that_its_patient_moves_while_a_review_is_booked(cast: Cast) -> None:
    life = lived.agreed(cast)
    VisitType.objects.update(patient_may_book=True)
    visit = life.case.visits.get(purpose=SESSION)
    diary.cancel(booking=lived.fresh(visit), by="patient", reason="", actor=actor_of(cast.desk), now=NOW)
    session = lived.fresh(lived.book(life, SESSION, earliest_at=NOW + timedelta(days=7), at=NOW))

    def review_is_booked() -> None:
        lived.book(life, REVIEW, earliest_at=session.starts_at + timedelta(days=28), at=NOW)

    with nothing_written(), pytest.raises(OutsideOpeningHours), meanwhile(review_is_booked):
        diary.move_visit(
            booking=session, start_at=session.starts_at + timedelta(days=1), actor=life.themselves, now=NOW
        )
