"""What the screen puts where while a gate is shut and after the gel was taken off in a hurry."""

from dataclasses import replace

from tests.whitening.chairside.protocol_cases import PLAN, Log, ready, with_gel
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import EmergencyStep, TakeOffReason
from whitening.chairside.protocol.codec import to_wire
from whitening.chairside.protocol.marks import Warn
from whitening.chairside.protocol.state import ClockKind, Moment
from whitening.chairside.screen import Screen, screen_of

WITHDRAWN = replace(PLAN, against=("Consent was withdrawn",))


def shown(log: Log) -> Screen:
    return screen_of(events=log.events, plan=log.plan, now=log.now)


def loud(log: Log) -> list[Warn]:
    return [code for code in shown(log).loud if code in {Warn.GATE_SHUT, Warn.GATE_SHUT_ON}]


def withdrawn(log: Log) -> Log:
    log.plan = WITHDRAWN
    return log


def test_the_clock_of_a_mix_is_the_biggest_while_its_gel_is_waited_for() -> None:
    screen = shown(ready().write(made.MixStarted(batch=7)))
    assert screen.clock is not None
    assert (screen.clock.kind, screen.other_clocks) == (ClockKind.MIX, ())


def test_a_mix_that_may_not_be_used_is_a_small_clock() -> None:
    screen = shown(withdrawn(ready().write(made.MixStarted(batch=7))))
    assert screen.clock is None
    assert [clock.kind for clock in screen.other_clocks] == [ClockKind.MIX]
    assert str(screen.title) == "Stop here, unless this is settled"
    assert screen.next is not None
    assert str(screen.next.label) == "Stop here"


def test_the_gel_clock_stays_the_biggest_whatever_shut() -> None:
    screen = shown(withdrawn(with_gel()))
    assert screen.clock is not None
    assert screen.clock.kind is ClockKind.GEL
    assert screen.loud == (Warn.GATE_SHUT_ON,)
    assert screen.state.against == WITHDRAWN.against


def test_taking_the_gel_off_and_what_is_asked_after_it_keep_their_place() -> None:
    """The steps say what to do already; that no gel goes on is said where somebody could put it on."""
    log = withdrawn(with_gel()).write(made.TakeOffNow(), after=5)
    for step in EmergencyStep:
        assert shown(log).state.moment is Moment.EMERGENCY
        assert loud(log) == []
        gel_off = (made.GelOff(),) if step is EmergencyStep.WIPE else ()
        log.write(made.EmergencyStepDone(step=step), *gel_off, after=5)
    assert shown(log).state.moment is Moment.REASON
    assert (loud(log), shown(log).clock) == ([], None)
    log.write(made.TakeOffReasonGiven(reason=TakeOffReason.WITHDRAWN))
    assert shown(log).state.moment is Moment.SENSITIVITY
    assert loud(log) == []
    log.write(made.Rinsed(), made.Sensitivity(score=2))
    assert shown(log).state.moment is Moment.DECISION
    assert loud(log) == [Warn.GATE_SHUT]
    assert str(shown(log).title) == "Stop here, unless this is settled"


def test_at_the_limit_the_session_stops() -> None:
    log = with_gel(replace(PLAN, cycles_most=1)).write(made.GelOff(), after=600).write(made.Sensitivity(score=0))
    assert str(shown(log).title) == "The session stops here"


def test_two_ways_on_are_a_question() -> None:
    log = with_gel().write(made.GelOff(), after=600).write(made.Rinsed(), made.Sensitivity(score=0))
    assert str(shown(log).title) == "Stop here or one more cycle?"


def test_a_withdrawn_consent_is_a_reason_of_its_own() -> None:
    """The last of the list: the others keep their places, which browsers hold as codes."""
    assert to_wire([made.TakeOffReasonGiven(reason=TakeOffReason.WITHDRAWN)]) == "28:7"
    assert to_wire([made.TakeOffReasonGiven(reason=TakeOffReason.OTHER)]) == "28:6"


def test_the_screen_changes_with_what_stands_against_it() -> None:
    log = withdrawn(ready())
    before = shown(log).tag
    log.plan = replace(PLAN, against=("Dentist to decide",))
    assert shown(log).tag != before
