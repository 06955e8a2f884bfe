"""Undo: it names, and takes back, the very last thing that somebody did at the chair."""

from dataclasses import replace

import pytest

from tests.whitening.chairside.protocol_cases import AMARA, JONAS, Log, with_gel
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Choice, EmergencyStep, FirstAid, MixEnd, Place
from whitening.chairside.protocol.events import OPENING
from whitening.chairside.protocol.kinds import Step


def said(log: Log) -> str:
    assert log.state.undo is not None
    return str(log.state.undo.label)


def test_undo_names_the_very_last_tap_also_a_contact() -> None:
    log = with_gel()
    assert said(log) == "Gel on: both arches, cycle 1"
    log.write(made.Contact(place=Place.EYE))
    assert said(log) == "Eye touched"
    log.undo()
    # It stays in the log, settled as a mistake, and gel on is the last tap again.
    assert [(each.place, each.action) for each in log.state.contacts] == [(Place.EYE, FirstAid.MISTAKE)]
    assert said(log) == "Gel on: both arches, cycle 1"


def test_a_contact_that_was_settled_is_taken_back_step_by_step() -> None:
    log = with_gel().write(made.Contact(place=Place.LIP))
    contact = log.last_seq()
    log.write(made.ContactSettled(contact=contact, action=FirstAid.FLUSHED))
    assert said(log) == "flushed, looks normal"
    # An undo of the contact itself changes nothing while what was done for it stands.
    log.write(made.Undo(seq=contact))
    assert [each.action for each in log.state.contacts] == [FirstAid.FLUSHED]
    again = with_gel().write(made.Contact(place=Place.LIP))
    again.write(made.ContactSettled(contact=again.last_seq(), action=FirstAid.FLUSHED)).undo()
    assert [each.open for each in again.state.contacts] == [True]
    assert said(again) == "Lip touched"


def test_what_opened_the_session_is_never_taken_back() -> None:
    log = Log().write(made.Reask(asked_by=JONAS))
    log.events = [replace(event, client_id=f"{OPENING}1.0") for event in log.events]
    assert log.state.undo is None
    log.write(made.Undo(seq=1))
    assert Step.REASK not in {log.state.step, log.write(made.Skipped(step=Step.PEOPLE)).state.step}
    assert said(log) == "Left out: Who is here?"


@pytest.mark.parametrize(
    ("payloads", "words"),
    [
        ((made.People(clinician=AMARA, assistant=JONAS),), "People present: Dr Amara Osei, Jonas Lindqvist"),
        ((made.StartShade(tab="A3.5"),), "Starting shade A3.5"),
        ((made.FinalShade(tab="A1"),), "Final shade A1"),
        ((made.Rinsed(), made.Sensitivity(score=4)), "Rinsed · Sensitivity: 4"),
        (
            (made.Decided(choice=Choice.ONE_MORE), made.MixStarted(batch=7, number="B-117")),
            "One more cycle · Mix started, batch B-117",
        ),
        ((made.MixDiscarded(mix=2, end=MixEnd.USED_UP),), "Mix 2 used up"),
        ((made.TakeOffNow(),), "Take the gel off now"),
        ((made.EmergencyStepDone(step=EmergencyStep.WIPE), made.GelOff()), "wipe · Gel off by suction"),
        ((made.LightMoved(tooth="12"),), "Light is on tooth 12"),
    ],
)
def test_undo_says_exactly_what(payloads: tuple[made.Payload, ...], words: str) -> None:
    assert said(Log().write(*payloads)) == words
