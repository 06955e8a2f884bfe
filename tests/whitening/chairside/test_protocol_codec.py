"""Entries as JSON and on the wire, and every way in which they can be wrong."""

from datetime import UTC, datetime

import pytest

from tests.whitening.chairside.protocol_cases import AMARA, JONAS, at
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Arches, Chaperone, FirstAid, Place, TakeOffReason
from whitening.chairside.protocol.codec import from_data, from_wire, to_data, to_wire
from whitening.chairside.protocol.kinds import Kind, Step
from whitening.chairside.protocol.payloads import PAYLOADS, BadPayload, Payload, Person

PEOPLE = {1: AMARA.name, 2: JONAS.name}
LATER = made.WrittenLater(seen_by=JONAS, written_by=AMARA, seen_at=at(0), written_at=at(60))
EXAMPLES: list[Payload] = [
    made.People(clinician=AMARA, assistant=JONAS, chaperone=Chaperone.PRESENT),
    made.StartShade(tab="A3.5", teeth_wet=False),
    made.Cured(seconds_per_area=20, light_unit=None),
    made.Cured(seconds_per_area=20, light_unit=4),
    made.MixStarted(batch=7, number="B:1;1", cleared=False),
    made.GelOn(cycle=2, mix=None, arches=Arches.UPPER, cleared=False),
    made.GelOn(cycle=5, mix=1, agreed=4),
    made.CareTaken(finding="SEN-01", step="Look closely."),
    made.TakeOffReasonGiven(reason=TakeOffReason.PAIN, words="Lower left."),
    made.ContactSettled(contact=14, action=FirstAid.FLUSHED),
    made.Contact(place=Place.EYE),
    made.Skipped(step=Step.POLISH),
    made.Undo(seq=3),
    LATER,
]


def test_every_kind_has_its_payload() -> None:
    assert set(PAYLOADS) == set(Kind)
    assert len({int(kind) for kind in Kind}) == len(Kind)


@pytest.mark.parametrize("payload", EXAMPLES, ids=lambda payload: payload.kind.name)
def test_json_and_back(payload: Payload) -> None:
    assert from_data(payload.kind, to_data(payload)) == payload


def test_json_is_plain() -> None:
    assert to_data(made.People(clinician=AMARA, assistant=JONAS)) == {
        "clinician": {"id": 1, "name": "Dr Amara Osei"},
        "assistant": {"id": 2, "name": "Jonas Lindqvist"},
        "chaperone": "offered_declined",
        "interpreter": "not_needed",
    }
    assert to_data(LATER)["seen_at"] == "2026-03-03T09:00:00+00:00"


def test_an_older_log_says_nothing_of_what_was_cleared() -> None:
    older = from_data(Kind.GEL_ON, {"cycle": 1, "mix": 1, "arches": "both"})
    assert older == made.GelOn(cycle=1, mix=1, cleared=True)


def test_the_wire_holds_numbers_and_ids_only() -> None:
    assert to_wire([made.Rinsed(), made.Sensitivity(score=7)]) == "23;24:7"
    assert to_wire([made.People(clinician=AMARA, assistant=JONAS)]) == "1:1:2:0:0"
    assert to_wire([made.GelOn(cycle=2, mix=None, cleared=False, agreed=4)]) == "16:2::0"
    assert to_wire([made.CareTaken(finding="17", step="Look closely.")]) == "42:17"
    assert to_wire([made.StartShade(tab="A3.5")]) == "7:A3.5:1:1:1"
    assert to_wire([made.MixStarted(batch=7, number="B-117")]) == "14:7"
    assert to_wire([made.TakeOffReasonGiven(reason=TakeOffReason.PAIN, words="Lower left.")]) == "28:1"


def test_the_wire_and_back() -> None:
    assert from_wire("23;24:7", people={}) == (made.Rinsed(), made.Sensitivity(score=7))
    assert from_wire("24", people={}, more=["7"]) == (made.Sensitivity(score=7),)
    assert from_wire("16:2::1", people={}) == (made.GelOn(cycle=2, mix=None, arches=Arches.UPPER),)
    assert from_wire("1", people=PEOPLE, more=["1", "2"]) == (made.People(clinician=AMARA, assistant=JONAS),)
    assert from_wire("7:A3.5:1:0:1", people={}) == (made.StartShade(tab="A3.5", no_tinted_eyewear=False),)
    assert from_wire("36", people={}, words="As it was.") == (made.Words(words="As it was."),)
    assert from_wire("28:1", people={}, words="Why") == (
        made.TakeOffReasonGiven(reason=TakeOffReason.PAIN, words="Why"),
    )
    assert from_wire("23", people={}, words="nowhere to go") == (made.Rinsed(),)


@pytest.mark.parametrize(
    "wire",
    [
        "",
        "0",
        "42",
        "-1",
        "1e3",
        "٣",
        "9999999999",
        "23:1",
        "24",
        "24:11",
        "24:x",
        "1:1:1",
        "1:1:3",
        "1:1:2:9",
        "7:Z9",
        "7:A3:2",
        "19:99",
        "11:0",
        "11:41",
        "12:0",
        "13:1:1",
        "16:1:1:0:1",
        "31:41",
        "36",
        "40:1:2:3:4",
        "41:12",
    ],
)
def test_a_wire_that_cannot_be_true(wire: str) -> None:
    with pytest.raises(BadPayload) as refused:
        from_wire(wire, people=PEOPLE)
    assert str(refused.value).endswith(".")
    assert str(refused.value.sentence) == str(refused.value)


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        (99, {}),
        (Kind.SENSITIVITY, []),
        (Kind.SENSITIVITY, {}),
        (Kind.SENSITIVITY, {"score": True}),
        (Kind.SENSITIVITY, {"score": "7"}),
        (Kind.SENSITIVITY, {"score": 7, "more": 1}),
        (Kind.GEL_ON, {"cycle": None, "mix": 1}),
        (Kind.REASK, {"asked_by": {"id": 1}}),
        (Kind.REASK, {"asked_by": "Jonas"}),
        (Kind.REASK, {"asked_by": {"id": "1", "name": "Jonas"}}),
        (Kind.REASK, {"asked_by": {"id": 1, "name": " "}}),
        (Kind.REASK, {"asked_by": {"id": 1, "name": 2}}),
        (Kind.CONTACT, {"place": "knee"}),
        (Kind.CONTACT, {"place": ["eye"]}),
        (Kind.WORDS, {"words": " "}),
        (Kind.WORDS, {"words": "x" * 1001}),
        (Kind.WRITTEN_LATER, to_data(LATER) | {"seen_at": "yesterday"}),
        (Kind.WRITTEN_LATER, to_data(LATER) | {"seen_at": 5}),
        (Kind.WRITTEN_LATER, to_data(LATER) | {"seen_at": "2026-03-03T09:00:00"}),
        (Kind.WRITTEN_LATER, to_data(LATER) | {"seen_at": "2026-03-04T09:00:00+00:00"}),
    ],
)
def test_json_that_cannot_be_true(kind: int, data: object) -> None:
    with pytest.raises(BadPayload):
        from_data(kind, data)


def test_two_people_of_one_name_are_not_two_inspectors() -> None:
    with pytest.raises(BadPayload):
        made.Inspection(first=AMARA, second=Person(id=3, name=AMARA.name))


def test_a_later_time_in_another_zone() -> None:
    made.WrittenLater(
        seen_by=JONAS,
        written_by=AMARA,
        seen_at=datetime.fromisoformat("2026-03-03T10:00:00+01:00"),
        written_at=datetime(2026, 3, 3, 9, 0, tzinfo=UTC),
    )
