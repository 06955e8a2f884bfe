"""What the chair does not take: a list that was not shown, a closing over open mixes, a tap after the closing."""

from collections.abc import Iterator
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening.chairside import chairs
from whitening.chairside.actions import NotReadyToClose, StaysAsItIs, Tap, close_session, record_tap
from whitening.chairside.models import BatchUse, Incident, IncidentStep, Session, SessionEvent
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import FirstAid, Place
from whitening.chairside.protocol.kinds import Kind, Step
from whitening.chairside.protocol.marks import Beyond
from whitening.screening.models import Reask
from whitening.screening.reask import reask_list

pytestmark = pytest.mark.django_db
ALL_SHOWN = [str(place) for place in range(len(reask_list().items))]


@pytest.fixture(autouse=True)
def _at_the_time() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def session(cast: Cast) -> Session:
    return chairs.a_session(cast)


@pytest.fixture
def nurse(cast: Cast, session: Session) -> Client:
    return sign_in(cast.assistant)


def tap(client: Client, session: Session, wire: str, **more: object) -> Answer:
    return client.post(reverse("chairside_event", args=[session.pk]), {"e": wire, **more}, headers={"X-Tap": "1"})


def page(client: Client, session: Session) -> str:
    return client.get(reverse("chairside", args=[session.pk])).content.decode()


def closed(cast: Cast, session: Session) -> float:
    """The minutes until it was closed, by the clinician."""
    took = chairs.played(cast, session)
    user, at = cast.clinician, chairs.minutes(took)
    close_session(session=session, client_id=str(uuid4()), user=user, actor=actor_of(user), now=at)
    return took


def test_as_before_only_after_each_item_was_shown(cast: Cast, session: Session, nurse: Client) -> None:
    for shown in ([], ALL_SHOWN[1:], ["99", "x", "0.1.2"]):
        with nothing_written():
            refused = tap(nurse, session, "2", a=[cast.assistant.pk], s=shown)
        assert refused.status_code == 409
        assert "Show or read out every item first." in refused.content.decode()
    with nothing_written():
        assert tap(nurse, session, f"2:{cast.assistant.pk}").status_code == 409
    assert tap(nurse, session, "2", a=[cast.hygienist.pk], s=ALL_SHOWN).status_code == 200
    data = SessionEvent.objects.get(session=session).data
    assert data["asked_by"] == {"id": cast.hygienist.pk, "name": cast.hygienist.name}
    assert data["shown"].split(".") == [item.id for item in reask_list().items]


def test_the_list_stands_at_its_step_with_who_can_have_asked(cast: Cast, session: Session, nurse: Client) -> None:
    chairs.tapped(cast, session, made.Skipped(step=Step.PEOPLE))
    text = page(nurse, session)
    assert text.count("data-shown-item") == len(ALL_SHOWN)
    assert f"All as before, asked by {cast.assistant.name}" in text
    assert cast.clinician.name not in text
    people = made.People(
        clinician=made.Person(id=cast.clinician.pk, name=cast.clinician.name),
        assistant=made.Person(id=cast.assistant.pk, name=cast.assistant.name),
    )
    chairs.tapped(cast, session, people)
    assert f"All as before, asked by {cast.clinician.name}" in page(nurse, session)


def test_only_who_may_treat_here_stands_as_the_clinician(cast: Cast, session: Session, nurse: Client) -> None:
    cast.hygienist.registration_expires_on = chairs.DAY - timedelta(days=1)
    cast.hygienist.save(update_fields=["registration_expires_on"])
    for nobody in (cast.desk, cast.manager, cast.hygienist):
        with nothing_written():
            refused = tap(nurse, session, "1", a=[nobody.pk, cast.assistant.pk])
        assert refused.status_code == 409
        assert f"{nobody.name} may not treat here today" in refused.content.decode()
    clinicians, assistants = page(nurse, session).split("<select", 2)[1:]
    assert cast.clinician.name in clinicians
    assert cast.hygienist.name not in clinicians
    for name in (cast.desk.name, cast.manager.name):
        assert f">{name}<" not in clinicians + assistants
    assert tap(nurse, session, "1", a=[cast.clinician.pk, cast.assistant.pk]).status_code == 200


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "yesterday", "2026-03-03"])
def test_a_time_that_no_device_has(session: Session, nurse: Client, at: str) -> None:
    assert tap(nurse, session, "3", at=at).status_code == 200
    assert SessionEvent.objects.get(session=session).happened_at == NOW


def test_what_opened_the_session_is_not_taken_back(cast: Cast) -> None:
    case = chairs.a_case(cast)
    Reask.objects.create(
        case=case, asked_on=chairs.DAY, shown=["illness"], replies={}, asked_at=NOW, asked_by=cast.assistant.name
    )
    session = chairs.a_session(cast)
    nurse = sign_in(cast.assistant)
    assert chairs.state_at(session).undo is None
    assert "data-undo hidden" in page(nurse, session)
    with nothing_written():
        assert tap(nurse, session, "39:1").status_code == 409


def test_undo_of_a_contact_settles_it_as_a_mistake(cast: Cast, session: Session, nurse: Client) -> None:
    contact = chairs.tapped(cast, session, made.GelOn(cycle=1, mix=None), made.Contact(place=Place.GUM))[-1]
    contact_alone = chairs.tapped(cast, session, made.Contact(place=Place.LIP))[0]
    assert "Lip touched" in page(nurse, session)
    tap(nurse, session, f"39:{contact_alone.seq}")
    state = chairs.state_at(session)
    assert [(each.place, each.action) for each in state.contacts] == [
        (Place.GUM, None),
        (Place.LIP, FirstAid.MISTAKE),
    ]
    incident = Incident.objects.get(session=session, seq=contact_alone.seq)
    assert [step.action for step in IncidentStep.objects.filter(incident=incident)] == ["mistake"]
    assert state.undo is not None
    assert [payload.seq for payload in state.undo.payloads if isinstance(payload, made.Undo)] == [
        contact.seq,
        contact.seq - 1,
    ]


def test_undo_of_a_contact_that_was_settled_meanwhile(cast: Cast, session: Session) -> None:
    contact = chairs.tapped(cast, session, made.Contact(place=Place.EYE))[0]
    chairs.tapped(cast, session, made.ContactSettled(contact=contact.seq, action=FirstAid.EYE_FLUSHED))
    with nothing_written(), pytest.raises(StaysAsItIs):
        chairs.tapped(cast, session, made.Undo(seq=contact.seq))


def test_undo_at_two_screens_takes_back_once(cast: Cast, session: Session, nurse: Client) -> None:
    row = chairs.tapped(cast, session, made.StopSignal())[0]
    assert tap(nurse, session, f"39:{row.seq}").status_code == 200
    with nothing_written():
        assert tap(nurse, session, f"39:{row.seq}").status_code == 200


def test_the_same_deed_at_two_screens_counts_once(cast: Cast, session: Session, nurse: Client) -> None:
    """Both show the log as far as entry 1, and both start the mix."""
    batch = chairs.a_batch(cast)
    chairs.tapped(cast, session, made.StopSignal())
    assert tap(nurse, session, f"14:{batch.pk}", v="1").status_code == 200
    with nothing_written():
        assert tap(nurse, session, f"14:{batch.pk}", v="1").status_code == 200
    assert BatchUse.objects.filter(session=session).count() == 1
    # Who has seen the first one, and a device that was without a network, says a second one.
    tap(nurse, session, f"14:{batch.pk}", v="2")
    tap(nurse, session, f"14:{batch.pk}")
    assert BatchUse.objects.filter(session=session).count() == 3


def test_two_contacts_are_never_one(cast: Cast, session: Session, nurse: Client) -> None:
    for _twice in range(2):
        tap(nurse, session, "29:0", v="0")
    assert Incident.objects.filter(session=session).count() == 2


def test_a_page_whose_id_was_used_says_so(cast: Cast, session: Session, nurse: Client) -> None:
    """Without scripts every button of a page carries the same id; the browser's back button brings it again."""
    own = str(uuid4())
    tap(nurse, session, "3", id=own)
    with nothing_written():
        refused = tap(nurse, session, "4", id=own)
    assert refused.status_code == 409
    assert "this page is older than the session" in refused.content.decode()
    chairs.played(cast, session)
    dentist = sign_in(cast.clinician)
    with nothing_written():
        assert tap(dentist, session, f"38:{cast.clinician.pk}", id=own).status_code == 409


def test_no_closing_over_a_mix_of_which_nothing_is_known(cast: Cast, session: Session) -> None:
    took = chairs.played(cast, session)
    ended = [row for row in session.events.all() if row.kind_code is Kind.MIX_DISCARDED]
    assert ended
    chairs.tapped(cast, session, made.Undo(seq=ended[0].seq), after=took)
    with nothing_written(), pytest.raises(NotReadyToClose) as refused:
        close_session(
            session=session,
            client_id=str(uuid4()),
            user=cast.clinician,
            actor=actor_of(cast.clinician),
            now=chairs.minutes(took),
        )
    assert "Say of each mix whether it is discarded or used up." in str(refused.value)
    with time_machine.travel(chairs.minutes(took), tick=False):
        dentist = sign_in(cast.clinician)
        text = page(dentist, session)
        assert "Mix 1 discarded" in text
        assert "Mix 1 used up" in text
        with nothing_written():
            assert tap(dentist, session, f"38:{cast.clinician.pk}").status_code == 409
        tap(dentist, session, "15:1:1")
        assert tap(dentist, session, f"38:{cast.clinician.pk}").status_code == 200


def test_closing_twice_shows_the_same_result(cast: Cast, session: Session) -> None:
    took = chairs.played(cast, session)
    with time_machine.travel(chairs.minutes(took), tick=False):
        dentist = sign_in(cast.clinician)
        first = tap(dentist, session, f"38:{cast.clinician.pk}", id=str(uuid4()))
        with nothing_written():
            second = tap(dentist, session, f"38:{cast.clinician.pk}", id=str(uuid4()))
    for answer in (first, second):
        assert answer.status_code == 200
        assert "Closed by" in answer.content.decode()
        assert "message-error" not in answer.content.decode()


WIRES = ["3", "29:0", "16:5:1:0", "39:2", "15:1", "26", "7:A3:1:1:1"]


@pytest.mark.parametrize("wire", WIRES)
def test_after_the_closing_nothing_is_recorded(cast: Cast, session: Session, wire: str) -> None:
    took = closed(cast, session)
    with time_machine.travel(chairs.minutes(took + 1), tick=False):
        nurse = sign_in(cast.assistant)
        with nothing_written():
            refused = tap(nurse, session, wire)
    assert refused.status_code == 409
    text = refused.content.decode()
    assert f"Nothing was recorded: {cast.clinician.name} has closed this session." in text
    # Of all that could change the session nothing is offered any more; the way to the case is.
    assert "data-tap" not in text
    assert reverse("case", args=[session.case_id]) in text


def test_what_was_tapped_before_the_closing_comes_late_and_is_marked(cast: Cast, session: Session) -> None:
    took = closed(cast, session)
    late = Tap(
        payloads=(made.Rinsed(),), client_id=str(uuid4()), happened_at=chairs.minutes(took) - timedelta(minutes=2)
    )
    user, at = cast.assistant, chairs.minutes(took + 5)
    rows = record_tap(session=session, tap=late, user=user, actor=actor_of(user), now=at)
    assert [row.happened_at for row in rows] == [chairs.minutes(took) - timedelta(minutes=2)]
    state = chairs.state_at(session, took + 5)
    assert [mark.code for mark in state.past_limit if mark.seq == rows[0].seq] == [Beyond.AFTER_CLOSING]
    assert state.closed_at == chairs.minutes(took)


def test_gel_that_was_recorded_late_can_still_be_taken_off(cast: Cast, session: Session) -> None:
    took = closed(cast, session)
    user, at = cast.assistant, chairs.minutes(took + 5)
    late = Tap(payloads=(made.GelOn(cycle=5, mix=1),), client_id=str(uuid4()), happened_at=at - timedelta(minutes=7))
    record_tap(session=session, tap=late, user=user, actor=actor_of(user), now=at)
    chairs.tapped(cast, session, made.GelOff(), after=took + 5)
    state = chairs.state_at(session, took + 5)
    assert (state.gel_on, state.step) == (False, None)


def test_each_answer_tells_the_servers_time(session: Session, nurse: Client) -> None:
    address = reverse("chairside_screen", args=[session.pk])
    first = nurse.get(address)
    again = nurse.get(address, headers={"If-None-Match": first["ETag"]})
    assert (first.status_code, again.status_code) == (200, 304)
    assert first["X-Now"] == again["X-Now"] == NOW.isoformat()
