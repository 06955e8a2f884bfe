"""Whole sessions, driven by what the screen offers."""

from dataclasses import replace

import pytest

from tests.whitening.chairside.protocol_cases import AMARA, JONAS, PLAN, Log, at
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import LightKind
from whitening.chairside.protocol.codec import from_wire, to_wire
from whitening.chairside.protocol.kinds import Kind, Step
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.state import Standing
from whitening.chairside.screen import screen_of

PEOPLE = {1: "Dr Amara Osei", 2: "Jonas Lindqvist"}
# The whole way is 40 from opening on: the case page's own button and one spare are left out here.
MOST_TAPS = 38
ASKED = made.Reask(asked_by=JONAS)


def opened(plan: SessionPlan) -> Log:
    """The day's list opened a gate before, and stands at the head of the log; it is no tap at the chair."""
    return Log(plan).write(ASKED)


def drive(plan: SessionPlan) -> Log:
    """Always the first offer; where there is none yet, waits for the next thing to change."""
    log = opened(plan)
    while log.state.closed_at is None:
        state = log.state
        if state.offers:
            log.tap(state.offers[0], after=5)
        else:
            assert state.next_at is not None, f"nothing offered and nothing to wait for at {state.step}"
            log.seconds = (state.next_at - at(0)).total_seconds()
    return log


@pytest.mark.parametrize("light", list(LightKind))
@pytest.mark.parametrize("mix_life_minutes", [15, 20, 60, None])
def test_four_cycles_need_few_taps_and_no_typing(light: LightKind, mix_life_minutes: int | None) -> None:
    log = drive(replace(PLAN, light=light, mix_life_minutes=mix_life_minutes))
    state = log.state
    assert state.cycles_done == 4
    assert log.taps - 1 <= MOST_TAPS
    assert [event.kind for event in log.events if event.kind is Kind.WORDS] == []
    assert state.past_limit == ()
    assert state.missing == ()
    assert state.closed_by == "Dr Amara Osei"
    assert state.clocks == ()
    assert {point.standing for point in state.path} == {Standing.DONE}


@pytest.mark.parametrize("planned", [3, 4, 5, 6])
def test_as_many_cycles_as_planned(planned: int) -> None:
    log = drive(replace(PLAN, cycles_planned=planned))
    assert log.state.cycles_done == planned
    assert log.state.ended_early is False


def test_the_order_of_the_steps() -> None:
    log = opened(PLAN)
    seen: list[Step] = []
    while log.state.closed_at is None:
        state = log.state
        if state.step is not None and state.step not in seen:
            seen.append(state.step)
        if state.offers:
            log.tap(state.offers[0])
        elif state.next_at is not None:
            log.seconds = (state.next_at - at(0)).total_seconds()
    assert seen == [
        Step.PEOPLE,
        Step.STOP_SIGNAL,
        Step.SPLASH_GLASSES,
        Step.POLISH,
        Step.OPENER,
        Step.START_SHADE,
        Step.START_PHOTOS,
        Step.ISOLATION,
        Step.EYEWEAR,
        Step.BARRIER,
        Step.INSPECTION,
        Step.CYCLES,
        Step.BARRIER_OFF,
        Step.FINAL_SHADE,
        Step.FINISH_PHOTOS,
        Step.ADVICE,
        Step.CLOSE,
    ]


def test_every_offer_of_a_session_survives_the_wire() -> None:
    log = opened(PLAN)
    while log.state.closed_at is None:
        state = log.state
        every = [*state.offers, *state.also, *state.contact_offers, *state.settle_offers, state.take_off]
        for offer in [*every, *([state.undo] if state.undo else [])]:
            if offer.payloads:
                wire = to_wire(offer.payloads)
                assert to_wire(from_wire(wire, people=PEOPLE)) == wire
                assert set(wire) <= set("0123456789:;ABCD.")
        if state.offers:
            log.tap(state.offers[0])
        elif state.next_at is not None:
            log.seconds = (state.next_at - at(0)).total_seconds()


def test_the_two_who_are_expected_are_named_before_a_tap_says_they_are_here() -> None:
    booked = replace(PLAN, clinician=AMARA, assistant=JONAS)
    screen = screen_of(events=(), plan=booked, now=at(0))
    assert (str(screen.title), screen.hint) == ("Who is here?", "Dr Amara Osei · Jonas Lindqvist")
    alone = screen_of(events=(), plan=replace(booked, assistant=AMARA), now=at(0))
    assert (alone.next, alone.hint) == (None, "")
