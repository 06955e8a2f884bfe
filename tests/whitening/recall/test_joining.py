"""Two records of one person: asked back once of each kind, by what was planned last, whichever record is kept."""

from datetime import timedelta

import pytest
from django.db import transaction

from clinic.messages.models import State
from clinic.messages.sweep import sweep
from tests.cast import Cast, actor_of
from tests.clinic.patients.twice import join, second_record
from tests.whitening.recall import afterwards
from tests.whitening.recall.reviews import surgery
from tests.whitening.recall.test_recalls import DUE, REVIEWED, asked, reviewed
from whitening.cases.actions import close_case, open_case
from whitening.cases.models import Case, CloseReason
from whitening.chairside.models import Session
from whitening.recall.actions import tick
from whitening.recall.actions.recalling import plan_recalls
from whitening.recall.models import Recall, RecallKind

pytestmark = pytest.mark.django_db


@pytest.fixture
def session(cast: Cast) -> Session:
    surgery(cast)
    return afterwards.a_closed_session(cast)


@pytest.mark.parametrize("first_is_kept", [True, False])
def test_it_works(cast: Cast, session: Session, first_is_kept: bool) -> None:
    reviewed(cast, session)
    other = second_record(cast)
    case = open_case(
        patient=other,
        wishes="Lighter.",
        expected_cycles=4,
        user=cast.desk,
        actor=actor_of(cast.desk),
        now=REVIEWED,
    )
    with transaction.atomic():
        plan_recalls(case=case, check_months=12, actor=actor_of(cast.clinician), now=REVIEWED + timedelta(days=1))
    for one in Case.objects.filter(closed_at=None):
        close_case(case=one, reason=CloseReason.FINISHED, words="", actor=actor_of(cast.desk), now=REVIEWED)
    both = (cast.patient, other) if first_is_kept else (other, cast.patient)
    join(cast, *both, now=REVIEWED + timedelta(days=2))
    held = Recall.objects.open()
    assert {(row.kind, row.case_id) for row in held} == {(kind, case.pk) for kind in RecallKind}
    assert held.filter(case__patient=both[0]).count() == len(RecallKind)


def test_it_is_asked_once(cast: Cast, session: Session) -> None:
    reviewed(cast, session)
    other = second_record(cast, phone="+442079460101")
    join(cast, other, cast.patient, now=REVIEWED)
    for _twice in range(2):
        tick(now=DUE + timedelta(hours=1))
        sweep(now=DUE + timedelta(hours=1))
    assert [(row.patient_id, row.state, row.sent_to) for row in asked()] == [
        (other.pk, State.HANDED_OVER, "a.nwosu@example.org")
    ]
