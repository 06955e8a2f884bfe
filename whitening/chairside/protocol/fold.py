"""The log in, the state out. Pure and total: any log that was written can be read, at any moment."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol import clocks, cycle_offers, history, offers
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.facts import Tally
from whitening.chairside.protocol.kinds import BEFORE_GEL, Kind, Step
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.limits_reached import (
    agreed_reached,
    emergency_steps_left,
    handled,
    limit_reached,
    missing,
    steps_left,
    unexplained,
)
from whitening.chairside.protocol.marks import Missing, Warn
from whitening.chairside.protocol.path import path
from whitening.chairside.protocol.saying import said_of
from whitening.chairside.protocol.state import (
    Ask,
    CareState,
    ContactState,
    CycleState,
    EmergencyState,
    LightState,
    Moment,
    Offer,
    SessionState,
)
from whitening.chairside.protocol.tally import tally


def fold(events: Iterable[Event], plan: SessionPlan, now: datetime) -> SessionState:
    log = history.once(events)
    facts = _read(log, plan)
    step, moment = _position(facts, now)
    light = clocks.light_state(facts, now)
    main, also = _offers(facts, step, moment, light, now)
    warnings = _warnings(facts, step, moment, light, now)
    return SessionState(
        version=log[-1].seq if log else 0,
        step=step,
        moment=moment,
        offers=main,
        also=also,
        undo=None if facts.closed else _undo(log),
        take_off=cycle_offers.take_off_now(),
        contact_offers=cycle_offers.contact_offers(),
        settle_offers=cycle_offers.settle_offers(facts),
        path=path(facts, step),
        clocks=clocks.all_clocks(facts, light, now),
        light=light,
        mixes=tuple(clocks.mix_state(facts, mix, now) for mix in facts.mixes),
        cycles=_cycles(facts),
        contact_seconds=int(clocks.contact_seconds(facts, now)),
        gel_on=bool(facts.running),
        gel_on_arches=tuple(sorted(facts.running)),
        emergency=_emergency(facts),
        contacts=_contacts(facts),
        past_limit=tuple(facts.beyond),
        unexplained=unexplained(facts),
        warnings=warnings,
        against=plan.against if {Warn.GATE_SHUT, Warn.GATE_SHUT_ON} & set(warnings) else (),
        missing=missing(facts),
        next_at=clocks.next_change(facts, light, now),
        people=facts.people,
        care=tuple(
            CareState(finding=code, at=event.happened_at, by=event.actor_name) for code, event in facts.care.items()
        ),
        start_shade=facts.start_shade,
        final_shade=facts.final_shade,
        reason=facts.emergency.reason.reason if facts.emergency and facts.emergency.reason else None,
        ended_early=facts.ended_early,
        over=facts.over,
        closed_at=facts.closed_at,
        closed_by=facts.closed.by.name if facts.closed else "",
    )


def _read(log: Sequence[Event], plan: SessionPlan) -> Tally:
    """Finds the closing that counts: the first one at which nothing was missing."""
    for place, event in enumerate(log):
        if event.kind is Kind.CLOSED:
            gone = history.taken_back(log[:place], closing=None)
            if not missing(tally(log[:place], gone=gone, plan=plan, closing=None)):
                gone = history.taken_back(log, closing=event.seq)
                return tally(log, gone=gone, plan=plan, closing=event.seq)
    gone = history.taken_back(log, closing=None)
    return tally(log, gone=gone, plan=plan, closing=None)


def _position(facts: Tally, now: datetime) -> tuple[Step | None, Moment | None]:
    busy = facts.emergency_open or bool(facts.running) or facts.reason_missing or facts.undecided is not None
    if busy and (facts.closed is None or facts.running):
        return Step.CYCLES, cycle_offers.moment_of(facts, now)
    if facts.closed is not None:
        return None, None
    if facts.over:
        return next(iter(steps_left(facts)), Step.CLOSE), None
    before = next((step for step in BEFORE_GEL if not handled(facts, step)), None)
    return (before, None) if before else (Step.CYCLES, cycle_offers.moment_of(facts, now))


def _offers(
    facts: Tally, step: Step | None, moment: Moment | None, light: LightState | None, now: datetime
) -> tuple[tuple[Offer, ...], tuple[Offer, ...]]:
    if step is None:
        return (), ()
    also = cycle_offers.beside(facts, moment, light, now)
    if moment is not None:
        main = cycle_offers.offers_of(facts, moment, now)
    elif step is Step.CLOSE:
        main = _close(facts)
    else:
        main = offers.STEP_OFFERS[step](facts)
        also = [*offers.leave_out(step), *also]
    return tuple(main), tuple(also)


def _close(facts: Tally) -> list[Offer]:
    left = missing(facts)
    if Missing.MIX_OPEN in left:
        return offers.mixes_left(facts)
    if Missing.WORDS in left:
        return [offers.words()]
    if left:
        return []
    by = offers.clinician(facts)
    if by is None:
        return [Offer(label=Ask.PEOPLE.label, ask=Ask.PEOPLE)]
    return [Offer(label=_("Close the session"), payloads=(made.Closed(by=by),))]


def _undo(log: Sequence[Event]) -> Offer | None:
    tap = history.last_tap(log)
    if not tap:
        return None
    # The label says what would be taken back; the button's own word is Undo.
    label = said_of([event.payload for event in reversed(tap)])
    return Offer(label=label, payloads=tuple(made.Undo(seq=event.seq) for event in tap))


def _cycles(facts: Tally) -> tuple[CycleState, ...]:
    return tuple(
        CycleState(
            number=cycle.number,
            started_at=cycle.started_at,
            ended_at=cycle.ended_at,
            mix=cycle.mix,
            lit=cycle.lit,
            sensitivity=cycle.sensitivity,
            taken_off=cycle.taken_off,
        )
        for cycle in facts.cycles
    )


def _emergency(facts: Tally) -> EmergencyState | None:
    if facts.emergency is None or not facts.emergency_open:
        return None
    return EmergencyState(pressed_at=facts.emergency.pressed_at, steps_left=emergency_steps_left(facts))


def _contacts(facts: Tally) -> tuple[ContactState, ...]:
    return tuple(
        ContactState(
            seq=touched.seq,
            place=touched.contact.place,
            at=touched.at,
            settled_at=touched.settled_at,
            action=touched.settled.action if touched.settled else None,
            words=touched.settled.words if touched.settled else "",
        )
        for touched in facts.touched
    )


def _warnings(
    facts: Tally, step: Step | None, moment: Moment | None, light: LightState | None, now: datetime
) -> tuple[Warn, ...]:
    plan, seconds = facts.plan, clocks.running_seconds(facts, now)
    on = bool(facts.running)
    waiting = moment in {Moment.GEL_ON, Moment.MIX, Moment.DECISION}
    expired = bool(facts.mixes) and clocks.usable_mix(facts, now) is None
    score = facts.cycles[-1].sensitivity if facts.cycles else None
    holds = {
        Warn.TAKEN_BACK: on and facts.cycle is None,
        Warn.TOO_LONG: on and seconds > plan.cycle_seconds_most + plan.removal_seconds,
        Warn.TIME_UP: on and seconds >= plan.cycle_seconds_planned,
        Warn.CONTACT_OPEN: facts.open_contact,
        # Taking the gel off, and the questions right after it, are what has to be done: they keep their place.
        Warn.GATE_SHUT_ON: not plan.gates_open and moment is Moment.RUNNING,
        Warn.GATE_SHUT: not plan.gates_open and not facts.over and (moment is None or waiting),
        Warn.SEVERE: moment is Moment.DECISION and (score or 0) >= plan.severe_from,
        Warn.LIMIT_REACHED: waiting and limit_reached(facts),
        # Where the maker's limit is reached as well, no signature would help.
        Warn.AGREED_REACHED: waiting and plan.gates_open and agreed_reached(facts) and not limit_reached(facts),
        Warn.MIX_EXPIRED: waiting and expired,
        Warn.MIX_BLOCKED: waiting and plan.gates_open and plan.fresh_batch is None,
        Warn.KEEP_MOVING: light is not None,
        Warn.NEVER_ALONE: on or light is not None,
    }
    return tuple(code for code, holding in holds.items() if holding and step is not None)
