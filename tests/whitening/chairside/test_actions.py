"""Opening, recording, undoing, closing: each once, in one transaction, and nothing on a refusal."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from clinic.accounts.rights import NotAllowed
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from whitening.cases.models import Moment
from whitening.chairside import log, registries
from whitening.chairside.actions import (
    GatesShut,
    NothingToUndo,
    NotReadyToClose,
    SessionRunning,
    Tap,
    UnknownBatch,
    close_session,
    confirm_identity,
    hold_batch,
    open_session,
    record_event,
    record_tap,
    undo_tap,
)
from whitening.chairside.actions.checking import ClosingIsItsOwn
from whitening.chairside.models import BatchUse, Incident, IncidentStep, Session, SessionEvent, StepKind
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import FirstAid, Place
from whitening.chairside.protocol.marks import Beyond
from whitening.screening.models import Reask

pytestmark = pytest.mark.django_db


def close(cast: Cast, session: Session, after: float, client_id: str = "") -> Session:
    return close_session(
        session=session,
        client_id=client_id or str(uuid4()),
        user=cast.clinician,
        actor=actor_of(cast.clinician),
        now=chairs.minutes(after),
    )


def test_opening_needs_every_gate(cast: Cast) -> None:
    case = chairs.a_case(cast)
    plan = chairs.a_plan(cast, case)
    with nothing_written(), pytest.raises(GatesShut) as refused:
        open_session(
            case=case,
            plan=plan,
            booking=None,
            shut_gates=["Consent", "Light"],
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=NOW,
        )
    assert str(refused.value) == "The session cannot start yet. Settle first: Consent, Light."


def test_opening_twice_opens_one(cast: Cast) -> None:
    session = chairs.a_session(cast)
    assert (session.number, session.closed_at) == (1, None)
    assert TrailEntry.objects.filter(verb="chairside.opened", subject_id=str(session.pk)).count() == 1
    with nothing_written(), pytest.raises(SessionRunning):
        open_session(
            case=session.case,
            plan=session.plan,
            booking=None,
            shut_gates=[],
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=NOW,
        )


def test_the_desk_opens_nothing(cast: Cast) -> None:
    case = chairs.a_case(cast)
    plan = chairs.a_plan(cast, case)
    with nothing_written(), pytest.raises(NotAllowed):
        open_session(
            case=case, plan=plan, booking=None, shut_gates=[], user=cast.desk, actor=actor_of(cast.desk), now=NOW
        )


def test_the_log_begins_with_the_days_reask(cast: Cast) -> None:
    case = chairs.a_case(cast)
    Reask.objects.create(
        case=case, asked_on=chairs.DAY, shown=[], replies={}, asked_at=NOW, asked_by=cast.assistant.name
    )
    session = chairs.a_session(cast)
    first = log.read(session)[0]
    assert isinstance(first.payload, made.Reask)
    assert first.payload.asked_by.id == cast.assistant.pk


def test_identity_is_asked_on_the_day(cast: Cast) -> None:
    case = chairs.a_case(cast)
    check = confirm_identity(case=case, user=cast.assistant, actor=actor_of(cast.assistant), now=NOW)
    assert check.asked_on == chairs.DAY


def test_a_tap_is_written_once(cast: Cast) -> None:
    session = chairs.a_session(cast)
    tap = Tap(
        payloads=(made.Rinsed(), made.Sensitivity(score=3)), client_id=str(uuid4()), happened_at=chairs.minutes(4)
    )

    def send() -> list[SessionEvent]:
        return record_tap(
            session=session, tap=tap, user=cast.assistant, actor=actor_of(cast.assistant), now=chairs.minutes(5)
        )

    first = send()
    assert [(row.seq, row.kind, row.happened_at, row.recorded_at) for row in first] == [
        (1, "rinsed", chairs.minutes(4), chairs.minutes(5)),
        (2, "sensitivity", chairs.minutes(4), chairs.minutes(5)),
    ]
    with nothing_written():
        assert [row.pk for row in send()] == [row.pk for row in first]


@pytest.mark.parametrize(("tapped_at", "kept_at"), [(-60, 0), (3, 3), (90, 5)])
def test_a_device_with_a_wrong_clock(cast: Cast, tapped_at: float, kept_at: float) -> None:
    session = chairs.a_session(cast)
    rows = record_event(
        session=session,
        payload=made.StopSignal(),
        client_id=str(uuid4()),
        happened_at=chairs.minutes(tapped_at),
        user=cast.assistant,
        actor=actor_of(cast.assistant),
        now=chairs.minutes(5),
    )
    assert rows[0].happened_at == chairs.minutes(kept_at)


def test_the_log_only_grows(cast: Cast) -> None:
    session = chairs.a_session(cast)
    row = chairs.tapped(cast, session, made.StopSignal())[0]
    row.actor_name = "Somebody else"
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        SessionEvent.objects.all().delete()


def test_a_mix_uses_a_batch_and_says_whether_it_was_allowed(cast: Cast) -> None:
    session = chairs.a_session(cast)
    batch = chairs.a_batch(cast)
    row = chairs.tapped(cast, session, made.MixStarted(batch=batch.pk))[0]
    assert row.data == {"batch": batch.pk, "number": "B-117", "cleared": True}
    assert BatchUse.objects.filter(batch=batch, session=session, quantity=1).count() == 1
    hold_batch(batch=batch, why="Recalled by its maker.", user=cast.assistant, actor=actor_of(cast.assistant), now=NOW)
    assert not chairs.state_at(session).mixes[0].usable
    chairs.tapped(cast, session, made.MixStarted(batch=batch.pk))
    assert [mark.code for mark in chairs.state_at(session).past_limit] == [Beyond.MIX_NOT_CLEARED]


def shut(_session: Session, _now: object) -> list[str]:
    return ["Consent was withdrawn"]


def test_gel_says_whether_a_gate_had_shut(cast: Cast) -> None:
    """As when the consent is withdrawn between the mix and the gel: recorded, and in need of words."""
    session = chairs.a_session(cast)
    chairs.tapped(cast, session, made.MixStarted(batch=chairs.a_batch(cast).pk))
    agreed = chairs.tapped(cast, session, made.GelOn(cycle=1, mix=1), made.GelOff())[0]
    assert agreed.data == {"cycle": 1, "mix": 1, "arches": "both", "cleared": True, "agreed": 4}
    assert Beyond.GEL_NOT_CLEARED not in marks(session)
    registries.register_gate_check(shut)
    row = chairs.tapped(cast, session, made.GelOn(cycle=2, mix=1), after=1)[0]
    assert row.data["cleared"] is False
    assert Beyond.GEL_NOT_CLEARED in marks(session)
    chairs.tapped(cast, session, made.Undo(seq=row.seq), after=2)
    assert Beyond.GEL_NOT_CLEARED not in marks(session)


def test_gel_of_a_batch_that_was_put_on_hold(cast: Cast) -> None:
    session = chairs.a_session(cast)
    batch = chairs.a_batch(cast)
    chairs.tapped(cast, session, made.MixStarted(batch=batch.pk))
    hold_batch(batch=batch, why="Recalled by its maker.", user=cast.assistant, actor=actor_of(cast.assistant), now=NOW)
    chairs.tapped(cast, session, made.GelOn(cycle=1, mix=1))
    assert Beyond.GEL_NOT_CLEARED in marks(session)


def test_two_screens_put_the_same_gel_on_while_a_gate_shuts(cast: Cast) -> None:
    """The second touch, of a screen that did not show the first yet, is the same gel: it stays as it was recorded."""
    session = chairs.a_session(cast)
    first = chairs.tapped(cast, session, made.GelOn(cycle=1, mix=None))
    registries.register_gate_check(shut)
    tap = Tap(payloads=(made.GelOn(cycle=1, mix=None),), client_id=str(uuid4()), happened_at=NOW, seen=0)
    with nothing_written():
        same = record_tap(session=session, tap=tap, user=cast.assistant, actor=actor_of(cast.assistant), now=NOW)
    assert [row.pk for row in same] == [row.pk for row in first]


def marks(session: Session) -> list[Beyond]:
    return [mark.code for mark in chairs.state_at(session).past_limit]


def test_a_batch_of_another_product_is_refused(cast: Cast) -> None:
    session = chairs.a_session(cast)
    with nothing_written(), pytest.raises(UnknownBatch):
        chairs.tapped(cast, session, made.MixStarted(batch=999))


def test_a_contact_becomes_an_incident_with_its_steps(cast: Cast) -> None:
    session = chairs.a_session(cast)
    contact = chairs.tapped(cast, session, made.Contact(place=Place.LIP))[0]
    settled = chairs.tapped(cast, session, made.ContactSettled(contact=contact.seq, action=FirstAid.FLUSHED))[0]
    chairs.tapped(cast, session, made.Undo(seq=settled.seq))
    incident = Incident.objects.get(session=session)
    assert (incident.place, incident.seq) == ("lip", contact.seq)
    steps = IncidentStep.objects.filter(incident=incident)
    assert [(step.kind, step.action) for step in steps] == [(StepKind.SETTLED, "flushed"), (StepKind.REOPENED, "")]
    chairs.tapped(cast, session, made.ContactSettled(contact=99, action=FirstAid.FLUSHED))
    assert steps.count() == 2


def test_undo_by_the_devices_own_id(cast: Cast) -> None:
    session = chairs.a_session(cast)
    rows = chairs.tapped(cast, session, made.Rinsed(), made.Sensitivity(score=3))
    tap = rows[0].client_id.partition(".")[0]

    def undo(which: str) -> list[SessionEvent]:
        return undo_tap(
            session=session,
            tap=which,
            client_id=str(uuid4()),
            happened_at=NOW,
            user=cast.assistant,
            actor=actor_of(cast.assistant),
            now=NOW,
        )

    assert [row.undoes_seq for row in undo(tap)] == [2, 1]
    with nothing_written(), pytest.raises(NothingToUndo):
        undo(str(uuid4()))
    with nothing_written(), pytest.raises(NothingToUndo):
        chairs.tapped(cast, session, made.Undo(seq=99))


def test_closing_by_an_entry_is_refused(cast: Cast) -> None:
    session = chairs.a_session(cast)
    person = made.Person(id=cast.clinician.pk, name=cast.clinician.name)
    with nothing_written(), pytest.raises(ClosingIsItsOwn):
        chairs.tapped(cast, session, made.Closed(by=person))


def test_a_whole_session_from_open_to_closed(cast: Cast) -> None:
    session = chairs.a_session(cast)
    heard: list[tuple[int, bool]] = []

    def listen(*, session: Session, needs_call: bool, **_more: object) -> None:
        heard.append((session.number, needs_call))

    registries.register_on_closed(listen)
    registries.register_on_closed(listen)
    took = chairs.played(cast, session)
    assert chairs.state_at(session, took).cycles_done == 4
    client_id = str(uuid4())
    closed = close(cast, session, took, client_id)
    assert (closed.closed_at, closed.closed_by) == (chairs.minutes(took), cast.clinician)
    with nothing_written():
        close(cast, session, took, client_id)
    assert heard == [(1, False)]
    assert chairs.state_at(closed, took).closed_by == cast.clinician.name
    readings = session.case.shades.values_list("moment", "provisional", "session_number")
    assert list(readings) == [(Moment.START, False, 1), (Moment.FINISH, True, 1)]
    # A second press, another tap by its id, leads to the same end.
    with nothing_written():
        again = close(cast, closed, took + 1)
    assert (again.closed_at, again.closed_by) == (closed.closed_at, cast.clinician)


def test_closing_while_something_is_missing(cast: Cast) -> None:
    session = chairs.a_session(cast)
    chairs.tapped(cast, session, made.GelOn(cycle=1, mix=None))
    with nothing_written(), pytest.raises(NotReadyToClose) as refused:
        close(cast, session, 1)
    assert str(refused.value) == "The session cannot be closed yet. Gel is still on the teeth: take it off."


def test_an_assistant_does_not_close(cast: Cast) -> None:
    session = chairs.a_session(cast)
    took = chairs.played(cast, session)
    with nothing_written(), pytest.raises(NotAllowed):
        close_session(
            session=session,
            client_id=str(uuid4()),
            user=cast.assistant,
            actor=actor_of(cast.assistant),
            now=chairs.minutes(took),
        )


def test_what_fails_in_a_hook_keeps_the_session_open(cast: Cast) -> None:
    session = chairs.a_session(cast)
    took = chairs.played(cast, session)

    def fail(**_more: object) -> None:
        raise RuntimeError

    registries.register_on_closed(fail)
    with nothing_written(), pytest.raises(RuntimeError):
        close(cast, session, took)


def test_a_gate_that_shuts_during_the_session_stops_the_mixing(cast: Cast) -> None:
    session = chairs.a_session(cast)
    assert log.plan_of(session, now=NOW).fresh_batch is not None
    registries.register_gate_check(shut)
    registries.register_gate_check(shut)
    assert log.plan_of(session, now=NOW).fresh_batch is None


def test_a_session_after_midnight_keeps_its_local_day(cast: Cast) -> None:
    late = NOW + timedelta(hours=15, minutes=30)
    case = chairs.a_case(cast)
    check = confirm_identity(case=case, user=cast.assistant, actor=actor_of(cast.assistant), now=late)
    assert check.asked_on.isoformat() == "2026-03-04"
