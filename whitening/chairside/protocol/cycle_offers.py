"""What the screen offers inside the cycles, in an emergency, and from anywhere. Past a limit: nothing more gel."""

from collections.abc import Callable, Mapping
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol import clocks
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import (
    Choice,
    EmergencyStep,
    FirstAid,
    LightKind,
    Place,
    TakeOffReason,
)
from whitening.chairside.protocol.facts import Cycle, Tally, Touched
from whitening.chairside.protocol.kinds import PROTECTION, Step
from whitening.chairside.protocol.limits import BatchFacts
from whitening.chairside.protocol.limits_reached import emergency_steps_left, more_gel
from whitening.chairside.protocol.offers import barrier_off, one
from whitening.chairside.protocol.saying import said
from whitening.chairside.protocol.state import LightState, Moment, Offer

# Settling a contact: what helps at each place. First aid for peroxide from general safety data sheets
# (eye: flush at least 15 minutes, medical help; skin: flush); the product's own sheet decides.
FIRST_AID: dict[Place, tuple[FirstAid, ...]] = {
    Place.GUM: (FirstAid.FLUSHED, FirstAid.WATCHED, FirstAid.CREAM, FirstAid.SENT_ON, FirstAid.MISTAKE),
    Place.LIP: (FirstAid.FLUSHED, FirstAid.WATCHED, FirstAid.CREAM, FirstAid.SENT_ON, FirstAid.MISTAKE),
    Place.SKIN: (FirstAid.FLUSHED, FirstAid.WATCHED, FirstAid.SENT_ON, FirstAid.MISTAKE),
    Place.EYE: (FirstAid.EYE_FLUSHED, FirstAid.SENT_ON, FirstAid.MISTAKE),
}


def moment_of(facts: Tally, now: datetime) -> Moment:
    """Where inside the cycles: gel on teeth comes before every other thing."""
    if facts.emergency_open:
        return Moment.EMERGENCY
    if facts.running:
        return Moment.RUNNING
    if facts.reason_missing:
        return Moment.REASON
    pending = facts.undecided
    if pending is not None:
        return Moment.SENSITIVITY if pending.sensitivity is None else Moment.DECISION
    return Moment.GEL_ON if clocks.usable_mix(facts, now) else Moment.MIX


def offers_of(facts: Tally, moment: Moment, now: datetime) -> list[Offer]:
    return _MOMENT_OFFERS[moment](facts, now)


def _reason(_facts: Tally, _now: datetime) -> list[Offer]:
    return [Offer(label=reason.label, payloads=(made.TakeOffReasonGiven(reason=reason),)) for reason in TakeOffReason]


def _sensitivity(_facts: Tally, _now: datetime) -> list[Offer]:
    return [Offer(label=str(score), payloads=(made.Rinsed(), made.Sensitivity(score=score))) for score in range(11)]


def _gel_on(facts: Tally, now: datetime) -> list[Offer]:
    return [gel_on(facts, now)] if more_gel(facts, now) else [stop_here()]


def _mix(facts: Tally, now: datetime) -> list[Offer]:
    batch = facts.plan.fresh_batch
    return [mix(facts, batch)] if batch is not None and more_gel(facts, now) else [stop_here()]


def mix(facts: Tally, batch: BatchFacts) -> Offer:
    label = _("Start the mix, batch %(number)s") if facts.plan.needs_mixing else _("Open the gel, batch %(number)s")
    payload = made.MixStarted(batch=batch.id, number=batch.number)
    return Offer(label=label % {"number": batch.number}, payloads=(payload,))


def gel_on(facts: Tally, now: datetime) -> Offer:
    usable = clocks.usable_mix(facts, now)
    number = len(facts.cycles) + (facts.cycle is None)
    payload = made.GelOn(cycle=number, mix=usable.number if usable else None, arches=facts.plan.arches)
    return Offer(label=said(payload), payloads=(payload,))


def stop_here() -> Offer:
    return Offer(label=Choice.STOP_HERE.label, payloads=(made.Decided(choice=Choice.STOP_HERE),))


def _running(facts: Tally, now: datetime) -> list[Offer]:
    """Gel is on: the light while there is time, then taking it off."""
    seconds = clocks.running_seconds(facts, now)
    off = Offer(label=_("Suction: gel is off"), payloads=(made.GelOff(),))
    if facts.cycle is None:
        # "Gel on" was taken back. The clock runs from its first press, whatever is tapped now.
        again = seconds < facts.plan.cycle_seconds_planned and more_gel(facts, now) and _protected(facts)
        return [gel_on(facts, now), off] if again and clocks.usable_mix(facts, now) is not None else [off]
    must_not_stay = facts.open_contact or not facts.plan.gates_open
    if must_not_stay and seconds < facts.plan.cycle_seconds_planned:
        # Gel where it must not be, or no longer agreed to: neither light nor waiting is offered, only taking it off.
        return [off]
    if seconds >= facts.plan.cycle_seconds_planned:
        return [Offer(label=_("Time is up. Suction: gel is off"), payloads=(made.TimeUp(), made.GelOff()))]
    changed = Offer(label=_("Gel has changed. Suction: gel is off"), payloads=(made.GelChanged(), made.GelOff()))
    light = [one(made.LightOn(light_unit=facts.plan.light_unit))] if _light_wanted(facts, facts.cycle) else []
    return [*light, changed] if seconds >= facts.plan.cycle_seconds_least else light


def _protected(facts: Tally) -> bool:
    return all(step in facts.done for step in PROTECTION)


def _light_wanted(facts: Tally, cycle: Cycle) -> bool:
    return facts.plan.light is not LightKind.NONE and not cycle.lit and Step.EYEWEAR in facts.done


def decision(facts: Tally, now: datetime) -> list[Offer]:
    if not more_gel(facts, now):
        return [stop_here()]
    more = one_more(facts, now)
    last = facts.cycles[-1]
    severe = (last.sensitivity or 0) >= facts.plan.severe_from
    enough = len(facts.cycles) >= facts.plan.cycles_planned
    return [stop_here(), more] if severe or enough or last.taken_off else [more, stop_here()]


def one_more(facts: Tally, now: datetime) -> Offer:
    """With a fresh mix in the same tap where one is needed and nothing else has to come before."""
    decided = made.Decided(choice=Choice.ONE_MORE)
    batch = facts.plan.fresh_batch
    if batch is not None and clocks.usable_mix(facts, now) is None and facts.ready_for_gel():
        label = _("One more cycle, start a fresh mix")
        return Offer(label=label, payloads=(decided, *mix(facts, batch).payloads))
    return Offer(label=Choice.ONE_MORE.label, payloads=(decided,))


def _emergency(facts: Tally, _now: datetime) -> list[Offer]:
    """Suction, wipe, rinse, barrier off, look. Gel counts as off once it is wiped, not before."""
    left = emergency_steps_left(facts)
    if not left:
        return [Offer(label=_("Suction: gel is off"), payloads=(made.GelOff(),))]
    step = left[0]
    done = made.EmergencyStepDone(step=step)
    if step is EmergencyStep.WIPE and facts.running:
        return [Offer(label=_("Wiped: gel is off"), payloads=(done, made.GelOff()))]
    if step is EmergencyStep.BARRIER_OFF and facts.placed:
        return [Offer(label=step.label, payloads=(done, barrier_off(facts)))]
    return [Offer(label=step.label, payloads=(done,))]


_MOMENT_OFFERS: Mapping[Moment, Callable[[Tally, datetime], list[Offer]]] = {
    Moment.EMERGENCY: _emergency,
    Moment.RUNNING: _running,
    Moment.REASON: _reason,
    Moment.SENSITIVITY: _sensitivity,
    Moment.DECISION: decision,
    Moment.GEL_ON: _gel_on,
    Moment.MIX: _mix,
}


def beside(facts: Tally, moment: Moment | None, light: LightState | None, now: datetime) -> list[Offer]:
    """Quiet offers that are true at many moments."""
    offers: list[Offer] = []
    if facts.running:
        offers.append(Offer(label=_("Gel is off"), payloads=(made.GelOff(),)))
    if light is not None:
        offers += [one(made.LightOff()), *_light_moves(light)]
    usable, batch = clocks.usable_mix(facts, now), facts.plan.fresh_batch
    # Mixing runs beside the other steps, once the patient sits and is being protected.
    beside_steps = moment in {None, Moment.RUNNING} and facts.people is not None and Step.ISOLATION in facts.done
    if beside_steps and usable is None and batch is not None and more_gel(facts, now):
        offers.append(mix(facts, batch))
    if usable is not None:
        discarded = made.MixDiscarded(mix=usable.number)
        offers.append(Offer(label=said(discarded), payloads=(discarded,)))
    if not facts.over and not facts.running and moment is not Moment.DECISION:
        stop = made.Decided(choice=Choice.STOP_HERE)
        offers.append(Offer(label=_("End the session here"), payloads=(stop,)))
    return offers


def _light_moves(light: LightState) -> list[Offer]:
    """Back or on by one tooth where hand and clock have drifted apart; an arch light is not moved by hand."""
    near = (light.position - 1, light.position + 1)
    places = [light.places[place] for place in near if 0 <= place < len(light.places)]
    return [
        Offer(label=said(moved), payloads=(moved,))
        for moved in (made.LightMoved(tooth=place) for place in places if place.isdigit())
    ]


def contact_offers() -> tuple[Offer, ...]:
    return tuple(Offer(label=place.label, payloads=(made.Contact(place=place),)) for place in Place)


def settle_offers(facts: Tally) -> tuple[Offer, ...]:
    """For the oldest open contact: one tap says what was done."""
    touched = next((each for each in facts.touched if each.settled_at is None), None)
    return () if touched is None else tuple(_settle(touched, action) for action in FIRST_AID[touched.contact.place])


def _settle(touched: Touched, action: FirstAid) -> Offer:
    return Offer(label=action.label, payloads=(made.ContactSettled(contact=touched.seq, action=action),))


def take_off_now() -> Offer:
    return one(made.TakeOffNow())
