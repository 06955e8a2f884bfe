"""A shade tapped before the closing that came in after it: the case says what the record of the session says."""

from datetime import datetime, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from clinic.trail.models import TrailEntry
from tests.cast import Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.chairside.test_session_record import lived
from whitening.cases.models import Moment, ShadeCorrection
from whitening.chairside import log
from whitening.chairside.actions import SessionClosed, record_event
from whitening.chairside.models import Session
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.payloads import Payload
from whitening.chairside.record_facts import record_facts
from whitening.recall.result_facts import result_facts
from whitening.shade.tabs import CLASSICAL_16

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("quick_paper")]
MINUTE = timedelta(minutes=1)
FINAL = made.FinalShade(tab="C4")


@pytest.fixture
def session(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Session:
    return lived(cast, monkeypatch)


def came_late(cast: Cast, session: Session, payload: Payload, *, happened_at: datetime) -> None:
    assert session.closed_at is not None
    record_event(
        session=session,
        payload=payload,
        client_id=str(uuid4()),
        happened_at=happened_at,
        user=cast.assistant,
        actor=actor_of(cast.assistant),
        now=session.closed_at + 5 * MINUTE,
    )


def of_case(session: Session) -> dict[str, str]:
    rows = session.case.shades.standing()
    kept = {row.moment: row.tab for row in rows}
    assert len(kept) == len(rows)
    return kept


def of_record(session: Session) -> dict[str, str]:
    assert session.closed_at is not None
    state = record_facts(log.read(session), log.plan_of(session, now=session.closed_at), now=session.closed_at).state
    told = {Moment.START.value: state.start_shade, Moment.FINISH.value: state.final_shade}
    return {moment: tab for moment, tab in told.items() if tab}


def test_closing_keeps_who_read_it(cast: Cast, session: Session) -> None:
    assert of_case(session) == of_record(session) != {}
    readers = {one.payload.__class__: one.actor_name for one in log.read(session)}
    start = session.case.shades.get(moment=Moment.START)
    assert start.read_by == readers[made.StartShade]


def test_the_shade_after(cast: Cast, session: Session) -> None:
    assert session.closed_at is not None
    came_late(cast, session, FINAL, happened_at=session.closed_at - MINUTE / 2)
    assert of_case(session) == of_record(session)
    assert of_case(session)[Moment.FINISH] == "C4"
    held = ShadeCorrection.objects.get()
    assert (held.reading.moment, held.corrected_by) == (Moment.FINISH, cast.assistant.name)
    assert TrailEntry.objects.filter(verb="cases.shade_corrected", actor_name=cast.assistant.name).count() == 1
    page = sign_in(cast.clinician).get(reverse("case", args=[session.case_id])).content.decode()
    assert ("C4, after a session" in page, f"{held.reading.tab}, after a session" in page) == (True, False)


def test_the_shade_before_is_what_the_result_is_compared_with(cast: Cast, session: Session) -> None:
    late = made.StartShade(tab="C4", teeth_wet=True, no_tinted_eyewear=True, chair_light_off=True)
    came_late(cast, session, late, happened_at=session.opened_at + 4 * MINUTE)
    assert of_case(session) == of_record(session)
    before = result_facts(list(session.case.shades.standing()), CLASSICAL_16).before
    assert before is not None
    assert (before.tab, before.read_by, before.read_at) == ("C4", cast.assistant.name, session.opened_at + 4 * MINUTE)


def test_what_came_late_and_is_taken_back_late_counts_no_more(cast: Cast, session: Session) -> None:
    """What was there in time stands again: nothing that comes late takes that back."""
    assert session.closed_at is not None
    in_time = of_case(session)
    came_late(cast, session, FINAL, happened_at=session.closed_at - MINUTE / 2)
    assert of_case(session) != in_time
    for event in [one for one in log.read(session) if isinstance(one.payload, made.FinalShade)]:
        came_late(cast, session, made.Undo(seq=event.seq), happened_at=session.closed_at - MINUTE / 4)
    assert of_case(session) == of_record(session) == in_time


def test_what_changes_no_shade_corrects_none(cast: Cast, session: Session) -> None:
    assert session.closed_at is not None
    came_late(cast, session, made.Sensitivity(score=2), happened_at=session.closed_at - MINUTE)
    assert not ShadeCorrection.objects.exists()


def test_what_happened_after_the_closing_is_no_reading_of_the_session(cast: Cast, session: Session) -> None:
    assert session.closed_at is not None
    with nothing_written(), pytest.raises(SessionClosed):
        came_late(cast, session, FINAL, happened_at=session.closed_at + MINUTE)
