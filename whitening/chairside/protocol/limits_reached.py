"""Whether more gel may be offered, and what still keeps the session from being closed."""

from collections.abc import Sequence
from datetime import datetime

from whitening.chairside.protocol import clocks
from whitening.chairside.protocol.choices import EmergencyStep
from whitening.chairside.protocol.facts import Tally
from whitening.chairside.protocol.kinds import AFTER_GEL, BEFORE_GEL, PROTECTION, Step
from whitening.chairside.protocol.marks import Missing, PastLimit


def limit_reached(facts: Tally) -> bool:
    """No room for one more whole cycle: neither in number nor in minutes of contact."""
    plan = facts.plan
    spent = any(facts.seconds(arch) + plan.cycle_seconds_planned > plan.contact_seconds_most for arch in plan.arch_list)
    return spent or len(facts.cycles) >= plan.cycles_most


def agreed_reached(facts: Tally) -> bool:
    """As many cycles as the patient has agreed to: one more is agreed anew first, by a changed plan and a signature."""
    return len(facts.cycles) >= facts.plan.cycles_agreed


def more_gel(facts: Tally, now: datetime) -> bool:
    """A further cycle may be offered at all; protection and mix are asked for on the way there.

    A shut gate bars it also while a mix is in its life: consent withdrawn in the chair ends the gel, not the next mix.
    """
    barred = facts.closed is not None or facts.over or facts.open_contact or limit_reached(facts)
    barred = barred or agreed_reached(facts)
    # What is on the teeth right now counts as well, or a fresh mix would be offered while time runs over.
    barred = (
        barred or not facts.plan.gates_open or clocks.contact_seconds(facts, now) >= facts.plan.contact_seconds_most
    )
    if barred or any(step in facts.skipped for step in PROTECTION):
        return False
    return clocks.usable_mix(facts, now) is not None or facts.plan.fresh_batch is not None


def steps_after(facts: Tally) -> tuple[Step, ...]:
    """Those that this session needs once no more gel follows."""
    needed = {
        Step.BARRIER_OFF: facts.placed or Step.BARRIER_OFF in facts.seen,
        Step.EYEWEAR_OFF: Step.EYEWEAR in facts.seen,
        Step.FINAL_SHADE: bool(facts.cycles),
        Step.FINISH_PHOTOS: bool(facts.cycles),
        Step.ENDED_EARLY: facts.arches_may_differ,
        Step.ADVICE: True,
        Step.NEXT_STEPS: True,
    }
    return tuple(step for step in AFTER_GEL if needed.get(step, False))


def handled(facts: Tally, step: Step) -> bool:
    return step in facts.done or step in facts.skipped


def steps_left(facts: Tally) -> tuple[Step, ...]:
    return tuple(step for step in steps_after(facts) if not handled(facts, step))


def not_recorded(facts: Tally) -> bool:
    """Steps before the gel that nobody wrote down, although gel was on."""
    return bool(facts.cycles) and any(step not in facts.seen | facts.skipped for step in BEFORE_GEL)


def unexplained(facts: Tally) -> tuple[PastLimit, ...]:
    """The clinician's words stand for everything that the log held when they were written."""
    return tuple(mark for mark in facts.beyond if mark.seq > facts.words_seq)


def emergency_steps_left(facts: Tally) -> tuple[EmergencyStep, ...]:
    done = facts.emergency.done if facts.emergency is not None else set(EmergencyStep)
    return tuple(step for step in EmergencyStep if step not in done)


def missing(facts: Tally) -> tuple[Missing, ...]:
    """In the order in which somebody should deal with it. From the log alone: no clock decides here."""
    holds: Sequence[tuple[Missing, bool]] = (
        (Missing.GEL_IS_ON, bool(facts.running)),
        (Missing.EMERGENCY_OPEN, facts.emergency_open),
        (Missing.REASON, facts.reason_missing),
        (Missing.CONTACT_OPEN, facts.open_contact),
        (Missing.BARRIER_IN, facts.placed),
        (Missing.NOT_OVER, not facts.over),
        (Missing.STEPS, facts.over and bool(steps_left(facts))),
        (Missing.MIX_OPEN, bool(facts.open_mixes)),
        (Missing.WORDS, bool(unexplained(facts)) or (not_recorded(facts) and not facts.words_seq)),
    )
    return tuple(code for code, holding in holds if holding)
