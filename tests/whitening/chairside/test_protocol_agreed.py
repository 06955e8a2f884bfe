"""No more cycles than were agreed are offered; what was done all the same is recorded and marked."""

from dataclasses import replace

import pytest

from tests.whitening.chairside.protocol_cases import PLAN, Log, cycle, with_gel
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Choice
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.marks import LOUD, Beyond, Missing, Warn
from whitening.chairside.protocol.saying import said
from whitening.chairside.protocol.state import Moment
from whitening.chairside.screen import title_of

AGREED = replace(PLAN, cycles_planned=2, cycles_agreed=2, mix_life_minutes=None)
MORE = {Kind.GEL_ON, Kind.LIGHT_ON, Kind.MIX_STARTED}


def after_two(plan: SessionPlan = AGREED) -> Log:
    """Two cycles, and the patient has just said how sensitive it is."""
    log = cycle(with_gel(plan), 1)
    log.write(made.GelOn(cycle=2, mix=1, agreed=2)).write(made.GelOff(), after=600)
    return log.write(made.Rinsed(), made.Sensitivity(score=1), after=20)


def offered(log: Log) -> set[Kind]:
    state = log.state
    return {payload.kind for offer in (*state.offers, *state.also) for payload in offer.payloads}


def test_one_more_is_offered_up_to_what_was_agreed_and_no_further() -> None:
    fewer_today = replace(AGREED, cycles_planned=1)
    log = with_gel(fewer_today).write(made.GelOff(), after=600).write(made.Rinsed(), made.Sensitivity(score=1))
    # The diary had room for one; the patient agreed to two.
    assert made.Decided(choice=Choice.ONE_MORE) in log.state.offers[1].payloads
    log = after_two(fewer_today)
    assert log.state.moment is Moment.DECISION
    assert [offer.payloads for offer in log.state.offers] == [(made.Decided(choice=Choice.STOP_HERE),)]
    assert not offered(log) & MORE
    assert str(title_of(log.state)) == "The session stops here"


def test_the_chair_says_why_and_what_would_have_to_happen() -> None:
    state = after_two().state
    assert Warn.AGREED_REACHED in state.warnings
    assert Warn.LIMIT_REACHED not in state.warnings
    assert str(Warn.AGREED_REACHED.label) == (
        "Every agreed cycle is done. One more needs a changed plan first, and the patient’s signature to it."
    )
    # An end as planned is nothing to be alarmed about.
    assert Warn.AGREED_REACHED not in LOUD


@pytest.mark.parametrize(("plan", "warning"), [
    # No signature helps where the maker's most is reached, nor where the minutes are used up.
    (replace(AGREED, cycles_most=2), Warn.LIMIT_REACHED),
    (replace(AGREED, contact_minutes_most=25), Warn.LIMIT_REACHED),
    # A gate that is shut says itself what has to happen.
    (replace(AGREED, against=("Not signed for this plan",)), Warn.GATE_SHUT),
])  # fmt: skip
def test_what_no_signature_would_change_comes_first(plan: SessionPlan, warning: Warn) -> None:
    warnings = after_two(plan).state.warnings
    assert warning in warnings
    assert Warn.AGREED_REACHED not in warnings


def test_agreed_anew_another_one_is_offered() -> None:
    log = after_two()
    log.plan = replace(AGREED, cycles_agreed=3)
    assert made.Decided(choice=Choice.ONE_MORE) in log.state.offers[1].payloads
    assert Warn.AGREED_REACHED not in log.state.warnings
    log.write(made.Decided(choice=Choice.ONE_MORE)).tap(log.state.offers[0])
    assert log.marks() == []
    assert [point.cycle for point in log.state.path if point.cycle] == [1, 2, 3]


def test_no_mix_is_offered_while_the_last_agreed_one_runs() -> None:
    log = cycle(with_gel(AGREED), 1).write(made.MixDiscarded(mix=1)).write(made.MixStarted(batch=7))
    log.write(made.GelOn(cycle=2, mix=2, agreed=2)).write(made.MixDiscarded(mix=2))
    assert log.state.moment is Moment.RUNNING
    assert Kind.MIX_STARTED not in offered(log)
    log.plan = replace(AGREED, cycles_agreed=3)
    assert Kind.MIX_STARTED in offered(log)


def test_what_was_done_all_the_same_is_recorded_marked_and_explained() -> None:
    log = after_two().write(made.GelOn(cycle=3, mix=1, agreed=2))
    assert log.marks() == [Beyond.NOT_AGREED]
    assert log.state.moment is Moment.RUNNING
    assert len(log.state.clocks) >= 1
    assert str(said(made.GelOn(cycle=3, mix=1, agreed=2))) == "Gel on: both arches, cycle 3, beyond the 2 agreed"
    log.write(made.GelOff(), after=60).write(made.Rinsed(), made.Sensitivity(score=1))
    log.write(made.Decided(choice=Choice.STOP_HERE))
    assert Missing.WORDS in log.state.missing
    # A signature that comes later makes nothing agreed that was not, when the gel went on.
    log.plan = replace(AGREED, cycles_agreed=4)
    assert log.marks() == [Beyond.NOT_AGREED]
    log.write(made.Words(words="The patient asked for it and signed right after."))
    assert Missing.WORDS not in log.state.missing


def test_a_plan_of_fewer_marks_nothing_that_was_agreed_when_it_was_done() -> None:
    log = after_two()
    log.plan = replace(AGREED, cycles_agreed=1)
    assert log.marks() == []


def test_gel_on_the_second_arch_is_no_further_cycle() -> None:
    log = cycle(with_gel(AGREED), 1).write(
        made.GelOn(cycle=2, mix=1, arches=made.GelOn(cycle=1, mix=1).arches, agreed=2)
    )
    log.write(made.GelOn(cycle=2, mix=1, agreed=2), after=30)
    assert log.marks() == []


def test_a_cycle_taken_back_does_not_count() -> None:
    log = after_two().write(made.GelOn(cycle=3, mix=1, agreed=2)).undo(after=2)
    assert log.marks() == []
    # Its clock runs on, and nothing leads to more gel but taking it off.
    assert log.state.gel_on
    assert not offered(log) & MORE
