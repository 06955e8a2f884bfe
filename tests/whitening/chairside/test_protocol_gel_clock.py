"""The gel clock: what an undo may never do to it, and what happens past its limits."""

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.whitening.chairside.protocol_cases import BATCH, PLAN, Log, at, cycle, over, ready, with_gel
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import (
    Arch,
    Arches,
    Choice,
    EmergencyStep,
    FirstAid,
    LightKind,
    Place,
    TakeOffReason,
)
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.kinds import Kind, Step
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.marks import Beyond, Missing, Warn
from whitening.chairside.protocol.state import ClockKind, Moment

GEL_ON_AT = 160
SHUT = ("Consent was withdrawn",)


def kinds(log: Log) -> list[list[Kind]]:
    return [[payload.kind for payload in offer.payloads] for offer in log.state.offers]


def test_undo_of_gel_on_lets_the_clock_run() -> None:
    log = with_gel()
    log.undo(after=60)
    state = log.state
    assert state.gel_on
    assert state.moment is Moment.RUNNING
    assert Warn.TAKEN_BACK in state.warnings
    assert state.cycles == ()
    assert kinds(log) == [[Kind.GEL_ON], [Kind.GEL_OFF]]
    log.tap(state.offers[0], after=60)
    assert log.state.clocks[0].started_at == at(GEL_ON_AT)
    assert log.state.cycles[0].started_at == at(GEL_ON_AT)


def test_undo_of_gel_on_ends_with_gel_off_and_counts_no_cycle() -> None:
    log = with_gel().undo(after=10)
    log.tap(log.state.offers[1], after=5)
    state = log.state
    assert not state.gel_on
    assert state.cycles == ()
    assert state.contact_seconds == 15
    assert state.moment is Moment.GEL_ON


def test_taken_back_past_the_limit_only_gel_off_is_offered() -> None:
    log = with_gel().undo(after=10)
    log.seconds += 16 * 60
    assert kinds(log) == [[Kind.GEL_OFF]]


def test_taken_back_without_a_usable_mix_only_gel_off_is_offered() -> None:
    log = with_gel().write(made.MixDiscarded(mix=1), after=5)
    log.write(made.Undo(seq=log.last_seq() - 1), after=5)
    assert kinds(log) == [[Kind.GEL_OFF]]


def test_undo_of_gel_off_runs_on_from_the_beginning() -> None:
    log = with_gel()
    log.tap(log.state.also[0], after=300)
    assert not log.state.gel_on
    log.undo(after=120)
    state = log.state
    assert state.gel_on
    assert state.clocks[0].started_at == at(GEL_ON_AT)
    assert state.contact_seconds == 420


def test_undo_takes_back_a_whole_tap() -> None:
    log = with_gel()
    log.tap(log.at(log.seconds + 600).offers[-1], after=600)
    assert [event.kind for event in log.events[-2:]] == [Kind.GEL_CHANGED, Kind.GEL_OFF]
    undo = log.state.undo
    assert undo is not None
    assert [payload.seq for payload in undo.payloads if isinstance(payload, made.Undo)] == [17, 16]


def test_nothing_to_undo_at_the_start() -> None:
    assert Log().state.undo is None
    log = Log().write(made.StopSignal())
    assert log.undo().state.undo is None


@pytest.mark.parametrize("seq", [0, 99])
def test_an_undo_of_nothing_does_nothing(seq: int) -> None:
    log = with_gel()
    before = log.state
    log.write(made.Undo(seq=seq))
    assert replace(log.state, version=before.version) == before


def test_entries_that_arrive_late_or_twice() -> None:
    log = cycle(with_gel(), 1)
    late = [replace(event, recorded_at=event.recorded_at + timedelta(hours=1)) for event in log.events]
    again = [replace(event, seq=event.seq + 100) for event in log.events]
    assert fold(reversed([*late, *again]), PLAN, log.now) == log.state


def test_one_arch_after_the_other() -> None:
    log = ready().write(made.MixStarted(batch=7))
    log.write(made.GelOn(cycle=1, mix=1, arches=Arches.UPPER))
    log.write(made.GelOn(cycle=1, mix=1, arches=Arches.LOWER), after=60)
    state = log.state
    assert state.gel_on_arches == (Arch.LOWER, Arch.UPPER)
    assert [clock.arch for clock in state.clocks if clock.kind is ClockKind.GEL] == [Arch.UPPER, Arch.LOWER]
    log.write(made.GelOff(arches=Arches.UPPER), after=60)
    assert log.state.gel_on_arches == (Arch.LOWER,)
    assert log.state.cycles[0].ended_at is None
    log.write(made.GelOff(arches=Arches.LOWER), after=60)
    assert log.state.cycles[0].ended_at is not None
    assert log.state.contact_seconds == 120


def test_a_clock_set_back_gives_no_negative_contact() -> None:
    log = with_gel().write(made.GelOff(), after=-30)
    assert log.state.contact_seconds == 0
    assert log.at(0).contact_seconds == 0


@pytest.mark.parametrize(
    ("minutes", "first"),
    [
        (7.9, [Kind.LIGHT_ON]),
        (8, [Kind.LIGHT_ON]),
        (15, [Kind.TIME_UP, Kind.GEL_OFF]),
        (60, [Kind.TIME_UP, Kind.GEL_OFF]),
    ],
)
def test_what_is_offered_while_gel_is_on(minutes: float, first: list[Kind]) -> None:
    log = with_gel()
    log.seconds += minutes * 60
    assert kinds(log)[0] == first
    assert (Warn.TIME_UP in log.state.warnings) is (minutes >= 15)
    assert (Warn.TOO_LONG in log.state.warnings) is (minutes > 16)


def test_gel_left_on_too_long_is_recorded_and_needs_words() -> None:
    log = with_gel().write(made.TimeUp(), made.GelOff(), after=16 * 60 + 1)
    # Both arches went past it with one entry, so it is said once.
    assert log.marks() == [Beyond.CYCLE_TOO_LONG]
    assert Missing.WORDS in log.state.missing
    log.write(made.Words(words="The suction had to be changed."))
    assert Missing.WORDS not in log.state.missing
    assert log.state.unexplained == ()
    assert len(log.state.past_limit) == 1


def test_suction_has_its_minute() -> None:
    log = with_gel().write(made.GelOff(), after=16 * 60)
    assert not log.state.past_limit


def test_no_further_cycle_once_the_minutes_are_used_up() -> None:
    log = with_gel(replace(PLAN, contact_minutes_most=25, mix_life_minutes=None))
    cycle(log, 1, minutes=15)
    assert log.state.moment is Moment.GEL_ON
    assert kinds(log) == [[Kind.DECIDED]]
    assert Warn.LIMIT_REACHED in log.state.warnings
    log.write(made.GelOn(cycle=2, mix=1)).write(made.GelOff(), after=10 * 60 + 1)
    assert {mark.code for mark in log.state.past_limit} == {Beyond.TOTAL_TOO_LONG}
    log.write(made.GelOn(cycle=3, mix=1))
    assert log.state.past_limit[-1].code is Beyond.CONTACT_SPENT


def test_no_cycle_past_the_most() -> None:
    log = with_gel(replace(PLAN, cycles_most=1, mix_life_minutes=None))
    log.write(made.GelOff(), after=600).write(made.Rinsed(), made.Sensitivity(score=0))
    assert kinds(log) == [[Kind.DECIDED]]
    log.write(made.GelOn(cycle=2, mix=1))
    assert log.marks() == [Beyond.TOO_MANY_CYCLES]


def test_gel_without_protection_mix_or_in_spite_of_stopping() -> None:
    log = Log().write(made.GelOn(cycle=1, mix=None))
    assert log.marks() == [Beyond.UNPROTECTED, Beyond.NO_MIX]
    stopped = over().write(made.GelOn(cycle=5, mix=4))
    assert stopped.marks() == [Beyond.AFTER_STOP, Beyond.MIX_GONE]
    assert stopped.state.moment is Moment.RUNNING


def test_gel_while_a_contact_is_open() -> None:
    log = ready().write(made.MixStarted(batch=7)).write(made.Contact(place=Place.LIP))
    assert kinds(log) == [[Kind.DECIDED]]
    assert Warn.CONTACT_OPEN in log.state.warnings
    log.write(made.GelOn(cycle=1, mix=1))
    assert log.marks() == [Beyond.CONTACT_OPEN]
    log.write(made.GelOff())
    log.write(made.ContactSettled(contact=15, action=FirstAid.FLUSHED))
    assert log.state.open_contacts == ()
    assert log.state.contacts[0].action is FirstAid.FLUSHED
    log.undo()
    assert len(log.state.open_contacts) == 1
    log.write(made.ContactSettled(contact=1, action=FirstAid.FLUSHED))
    assert len(log.state.open_contacts) == 1


def test_the_mix_and_its_life() -> None:
    log = ready().write(made.MixStarted(batch=7, number="B-117"))
    assert log.state.moment is Moment.GEL_ON
    log.seconds += 20 * 60
    state = log.state
    assert state.moment is Moment.MIX
    assert not state.mixes[0].usable
    assert Warn.MIX_EXPIRED in state.warnings
    log.write(made.GelOn(cycle=1, mix=1))
    assert log.marks() == [Beyond.MIX_TOO_OLD]


def test_a_mix_taken_back_and_started_again_keeps_its_clock() -> None:
    log = ready().write(made.MixStarted(batch=7)).undo(after=60)
    assert not log.state.mixes
    log.write(made.MixStarted(batch=7), after=60)
    assert [(mix.number, mix.started_at) for mix in log.state.mixes] == [(2, at(120))]
    fresh = ready().write(made.MixStarted(batch=7)).undo(after=60)
    fresh.write(made.MixDiscarded(mix=1)).write(made.MixStarted(batch=7), after=60)
    assert [mix.started_at for mix in fresh.state.mixes] == [at(240)]


def test_a_discarded_mix_and_a_held_batch() -> None:
    log = ready().write(made.MixStarted(batch=7)).write(made.MixDiscarded(mix=1))
    assert log.state.mixes[0].discarded
    assert log.state.moment is Moment.MIX
    log.write(made.GelOn(cycle=1, mix=1))
    assert log.marks() == [Beyond.MIX_GONE]
    held = ready().write(made.MixStarted(batch=7))
    held.plan = replace(PLAN, held_batches=frozenset({7}), batch=replace(BATCH, usable=False))
    assert kinds(held) == [[Kind.DECIDED]]
    assert Warn.MIX_BLOCKED in held.state.warnings


def test_a_mix_discarded_by_a_number_nobody_gave() -> None:
    log = ready().write(made.MixStarted(batch=7)).write(made.MixDiscarded(mix=9))
    assert log.state.mixes[0].usable


def test_a_mix_that_was_not_cleared() -> None:
    log = ready().write(made.MixStarted(batch=7, cleared=False))
    assert log.marks() == [Beyond.MIX_NOT_CLEARED]


def test_gel_that_was_not_cleared() -> None:
    log = ready().write(made.MixStarted(batch=7)).write(made.GelOn(cycle=1, mix=1, cleared=False))
    assert log.marks() == [Beyond.GEL_NOT_CLEARED]
    log.write(made.GelOff(), after=60)
    assert Missing.WORDS in log.state.missing
    log.write(made.Words(words="Consent was withdrawn as the syringe was on the tooth; the gel came off at once."))
    assert Missing.WORDS not in log.state.missing


def test_gel_that_was_not_cleared_and_was_taken_back() -> None:
    """What never happened needs no words; the clock of its first touch runs on all the same."""
    log = ready().write(made.MixStarted(batch=7)).write(made.GelOn(cycle=1, mix=1, cleared=False)).undo(after=5)
    assert log.marks() == []
    assert log.state.gel_on


@pytest.mark.parametrize("plan", [replace(PLAN, against=SHUT), replace(PLAN, batch=None)])
def test_no_mixing_while_a_gate_is_shut_or_without_a_batch(plan: SessionPlan) -> None:
    log = ready()
    log.plan = plan
    assert kinds(log) == [[Kind.DECIDED]]


def test_a_gate_that_shuts_meanwhile_ends_the_gel_also_with_a_mix_in_its_life() -> None:
    """As when the patient withdraws in the chair: the mix on the tray is no reason to go on."""
    mixed = ready().write(made.MixStarted(batch=7))
    mixed.plan = replace(PLAN, against=SHUT)
    assert kinds(mixed) == [[Kind.DECIDED]]
    assert Warn.GATE_SHUT in mixed.state.warnings
    running = with_gel()
    running.plan = replace(PLAN, against=SHUT)
    assert kinds(running) == [[Kind.GEL_OFF]]
    assert Warn.GATE_SHUT_ON in running.state.warnings
    assert running.state.against == SHUT
    running.tap(running.state.offers[0], after=60).write(made.Rinsed()).write(made.Sensitivity(score=0))
    assert running.state.moment is Moment.DECISION
    assert [offer.payloads for offer in running.state.offers] == [(made.Decided(choice=Choice.STOP_HERE),)]
    running.tap(running.state.offers[0])
    assert Warn.GATE_SHUT not in running.state.warnings
    assert not running.state.against


def test_the_earlier_of_two_touches_starts_the_clock_also_when_it_comes_late() -> None:
    """One screen had no network; the other one wrote "gel on" five minutes after it."""
    log = ready().write(made.MixStarted(batch=7))
    began_at = log.now
    log.write(made.GelOn(cycle=1, mix=1), after=300).write(made.GelOn(cycle=1, mix=1), after=-300, late=400)
    log.seconds += 400
    assert [clock.started_at for clock in log.state.clocks if clock.kind is ClockKind.GEL] == [began_at] * 2
    assert [each.started_at for each in log.state.cycles] == [began_at]
    assert log.state.contact_seconds == 400
    log.write(made.GelOff())
    # Gel that was on before that is another cycle's: it does not reach back over the time without any.
    log.write(made.GelOn(cycle=2, mix=1), after=60).write(made.GelOn(cycle=1, mix=1), after=-200)
    assert [clock.started_at for clock in log.at(log.seconds + 200).clocks if clock.kind is ClockKind.GEL] == [
        began_at + timedelta(seconds=460)
    ] * 2


def test_no_fresh_mix_while_gel_is_on_past_the_longest_contact() -> None:
    log = with_gel().write(made.MixDiscarded(mix=1))
    assert Kind.MIX_STARTED in {payload.kind for offer in log.state.also for payload in offer.payloads}
    spent = log.at(log.seconds + PLAN.contact_seconds_most)
    assert Kind.MIX_STARTED not in {payload.kind for offer in spent.also for payload in offer.payloads}


def test_mixing_runs_beside_the_other_steps() -> None:
    log = Log()
    assert Kind.MIX_STARTED not in {payload.kind for offer in log.state.also for payload in offer.payloads}
    ahead = ready().undo().undo()
    beside = [offer for offer in ahead.state.also if offer.payloads[0].kind is Kind.MIX_STARTED]
    ahead.tap(beside[0])
    assert ahead.state.step is Step.BARRIER
    assert [clock.kind for clock in ahead.state.clocks] == [ClockKind.MIX]


def test_take_the_gel_off_now() -> None:
    log = with_gel().write(made.LightOn(), after=10)
    assert log.state.light is not None
    log.tap(log.state.take_off, after=10)
    state = log.state
    assert state.light is None
    assert state.gel_on
    assert state.emergency is not None
    assert state.emergency.pressed_at == log.now
    assert state.clocks[0].started_at == at(GEL_ON_AT)
    for expected in (
        [Kind.EMERGENCY_STEP],
        [Kind.EMERGENCY_STEP, Kind.GEL_OFF],
        [Kind.EMERGENCY_STEP],
        [Kind.EMERGENCY_STEP, Kind.BARRIER_OFF],
        [Kind.EMERGENCY_STEP],
    ):
        assert kinds(log) == [expected]
        log.tap(log.state.offers[0], after=5)
    assert log.state.moment is Moment.REASON
    assert log.state.contact_seconds == 30
    assert Missing.REASON in log.state.missing
    log.tap(log.state.offers[0])
    assert log.state.reason is TakeOffReason.SIGNAL
    log.tap(log.state.offers[3])
    assert kinds(log) == [[Kind.DECIDED], [Kind.DECIDED]]
    assert log.state.offers[0].payloads == (made.Decided(choice=Choice.STOP_HERE),)
    log.tap(log.state.offers[1])
    assert log.state.step is Step.BARRIER


def test_take_off_with_every_step_ticked_but_gel_still_on() -> None:
    log = with_gel().write(made.TakeOffNow())
    for step in EmergencyStep:
        log.write(made.EmergencyStepDone(step=step))
    assert kinds(log) == [[Kind.GEL_OFF]]
    log.write(made.TakeOffNow())
    assert log.state.emergency is not None
    assert log.state.emergency.steps_left == ()


def test_take_off_without_gel_and_barrier() -> None:
    log = Log().write(made.EmergencyStepDone(step=EmergencyStep.LOOK))
    log.write(made.TakeOffReasonGiven(reason=TakeOffReason.OTHER))
    assert log.state.emergency is None
    log.write(made.TakeOffNow())
    for step in EmergencyStep:
        assert log.state.offers[0].payloads == (made.EmergencyStepDone(step=step),)
        log.tap(log.state.offers[0])
    assert log.state.moment is Moment.REASON


def test_taken_off_in_the_last_planned_cycle_is_ended_early() -> None:
    log = with_gel(replace(PLAN, cycles_planned=1)).write(made.TakeOffNow())
    while log.state.moment is not Moment.DECISION:
        log.tap(log.state.offers[0])
    log.tap(log.state.offers[0])
    assert log.state.ended_early


def test_severe_sensitivity_puts_stopping_first() -> None:
    log = with_gel().write(made.GelOff(), after=600).write(made.Sensitivity(score=7))
    assert Warn.SEVERE in log.state.warnings
    assert log.state.offers[0].payloads == (made.Decided(choice=Choice.STOP_HERE),)
    mild = with_gel().write(made.GelOff(), after=600).write(made.Sensitivity(score=6))
    assert Warn.SEVERE not in mild.state.warnings


@pytest.mark.parametrize("light", [LightKind.HAND_HELD, LightKind.ARCH])
def test_light_before_eyewear_is_marked(light: LightKind) -> None:
    log = Log(replace(PLAN, light=light)).write(made.LightOn())
    assert log.marks() == [Beyond.LIGHT_UNPROTECTED]
