"""Reads the log entry by entry into plain facts. Nothing here knows what time it is.

The gel-contact clock reads the raw log: "gel on" starts it even when that entry was taken back later,
and taking back "gel off" lets it run on from where it began. So an undo can make a contact longer than
it was, never shorter.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from typing import Any

from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import Choice, FirstAid, LightKind, PictureMoment
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.facts import Cycle, Emergency, Light, Mix, Stretch, Tally, Touched
from whitening.chairside.protocol.kinds import PROTECTION, STEP_OF, Kind, Step
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.marks import Beyond

SAFETY = frozenset({Step.STOP_SIGNAL, Step.SPLASH_GLASSES, Step.BARRIER_OFF, *PROTECTION})


def tally(events: Sequence[Event], *, gone: frozenset[int], plan: SessionPlan, closing: int | None) -> Tally:
    """`closing` is the place in the log of the entry that really closed the session, if one did."""
    facts = Tally(plan=plan)
    for event in events:
        if event.seq in gone:
            _shadow(facts, event)
        else:
            _read(facts, event, closing)
    return facts


def _shadow(facts: Tally, event: Event) -> None:
    """What stays of an entry that was taken back: the clocks it started."""
    payload = event.payload
    if isinstance(payload, made.GelOn):
        start_contact(facts, event, payload)
    elif isinstance(payload, made.MixStarted):
        facts.mixes_numbered += 1
        facts.mixes_taken_back[facts.mixes_numbered] = event.happened_at


def _read(facts: Tally, event: Event, closing: int | None) -> None:
    if facts.closed is not None and event.kind is not Kind.WRITTEN_LATER:
        facts.mark(event, Beyond.AFTER_CLOSING)
    if event.kind in STEP_OF:
        _tick(facts, STEP_OF[event.kind])
    if isinstance(event.payload, made.Closed):
        if event.seq == closing:
            facts.closed, facts.closed_at = event.payload, event.happened_at
        return
    handler = _HANDLERS.get(event.kind)
    if handler is not None:
        handler(facts, event, event.payload)


def _tick(facts: Tally, step: Step) -> None:
    facts.done.add(step)
    facts.seen.add(step)
    facts.skipped.discard(step)


def start_contact(facts: Tally, event: Event, payload: made.GelOn) -> None:
    """What a device without a network sends late may be the earlier touch of two: the clock goes back to it."""
    for arch in payload.arches.each:
        running = facts.running.setdefault(arch, Stretch(arch=arch, on_at=event.happened_at))
        free_since = max((each.off_at for each in facts.stretches if each.arch is arch and each.off_at), default=None)
        if free_since is None or event.happened_at >= free_since:
            running.on_at = min(running.on_at, event.happened_at)


def _gel_on(facts: Tally, event: Event, payload: made.GelOn) -> None:
    for code in _gel_on_marks(facts, event, payload):
        facts.mark(event, code)
    start_contact(facts, event, payload)
    # Gel that a taken-back entry put on is the same gel: the cycle began with it.
    began_at = min(stretch.on_at for stretch in facts.running.values())
    if facts.cycle is None:
        facts.cycles.append(Cycle(number=len(facts.cycles) + 1, started_at=began_at, mix=payload.mix))
        facts.light = None
    else:
        facts.cycle.started_at = began_at


def _gel_on_marks(facts: Tally, event: Event, payload: made.GelOn) -> list[Beyond]:
    most = facts.plan.contact_seconds_most
    found = {
        Beyond.GEL_NOT_CLEARED: not payload.cleared,
        Beyond.UNPROTECTED: not all(step in facts.done for step in PROTECTION),
        Beyond.CONTACT_OPEN: facts.open_contact,
        Beyond.AFTER_STOP: facts.over,
        Beyond.TOO_MANY_CYCLES: facts.cycle is None and len(facts.cycles) >= facts.plan.cycles_most,
        Beyond.NOT_AGREED: facts.cycle is None and payload.agreed is not None and len(facts.cycles) >= payload.agreed,
        Beyond.CONTACT_SPENT: any(facts.seconds(arch) >= most for arch in payload.arches.each),
    }
    return [code for code, holds in found.items() if holds] + _mix_marks(facts, event, payload)


def _mix_marks(facts: Tally, event: Event, payload: made.GelOn) -> list[Beyond]:
    mix = next((mix for mix in facts.mixes if mix.number == payload.mix), None)
    if mix is None:
        return [Beyond.NO_MIX]
    if mix.discarded:
        return [Beyond.MIX_GONE]
    life = facts.plan.mix_life_minutes
    old = life is not None and event.happened_at - mix.started_at >= timedelta(minutes=life)
    return [Beyond.MIX_TOO_OLD] if old else []


def _gel_off(facts: Tally, event: Event, payload: made.GelOff) -> None:
    most = facts.plan.cycle_seconds_most + facts.plan.removal_seconds
    ended = [facts.running.pop(arch) for arch in payload.arches.each if arch in facts.running]
    for stretch in ended:
        # A device whose clock was set back in between must not make the contact negative.
        stretch.off_at = max(event.happened_at, stretch.on_at)
        facts.stretches.append(stretch)
        if (stretch.off_at - stretch.on_at).total_seconds() > most:
            facts.mark(event, Beyond.CYCLE_TOO_LONG)
        if facts.seconds(stretch.arch) > facts.plan.contact_seconds_most:
            facts.mark(event, Beyond.TOTAL_TOO_LONG)
    if ended and not facts.running:
        _stop_light(facts, event)
        cycle = facts.cycle
        if cycle is not None:
            cycle.ended_at = event.happened_at


def _stop_light(facts: Tally, event: Event) -> None:
    if facts.light is not None and facts.light.stopped_at is None:
        facts.light.stopped_at = max(event.happened_at, facts.light.on_at)


def _light_on(facts: Tally, event: Event, _payload: made.LightOn) -> None:
    if facts.plan.light is LightKind.NONE:
        facts.mark(event, Beyond.LIGHT_UNPLANNED)
    if Step.EYEWEAR not in facts.done:
        facts.mark(event, Beyond.LIGHT_UNPROTECTED)
    facts.light = Light(on_at=event.happened_at, from_at=event.happened_at)
    if facts.cycle is not None:
        facts.cycle.lit = True


def _light_off(facts: Tally, event: Event, _payload: made.LightOff) -> None:
    _stop_light(facts, event)


def _light_moved(facts: Tally, event: Event, payload: made.LightMoved) -> None:
    light = facts.light
    if light is not None and light.stopped_at is None and payload.tooth in facts.plan.teeth:
        light.from_position, light.from_at = facts.plan.teeth.index(payload.tooth), event.happened_at


def _mix_started(facts: Tally, event: Event, payload: made.MixStarted) -> None:
    if not payload.cleared:
        facts.mark(event, Beyond.MIX_NOT_CLEARED)
    started_at = min([event.happened_at, *facts.mixes_taken_back.values()])
    facts.mixes_taken_back.clear()
    facts.mixes_numbered += 1
    facts.mixes.append(
        Mix(number=facts.mixes_numbered, batch=payload.batch, batch_number=payload.number, started_at=started_at)
    )


def _mix_discarded(facts: Tally, _event: Event, payload: made.MixDiscarded) -> None:
    facts.mixes_taken_back.pop(payload.mix, None)
    for mix in facts.mixes:
        if mix.number == payload.mix:
            mix.discarded = True


def _sensitivity(facts: Tally, _event: Event, payload: made.Sensitivity) -> None:
    if facts.cycles:
        facts.cycles[-1].sensitivity = payload.score


def _decided(facts: Tally, _event: Event, payload: made.Decided) -> None:
    facts.over = payload.choice is Choice.STOP_HERE
    if facts.cycles and facts.cycles[-1].ended_at is not None:
        facts.cycles[-1].decided = True


def _ended_early(facts: Tally, _event: Event, _payload: made.EndedEarly) -> None:
    facts.over = True


def _take_off_now(facts: Tally, event: Event, _payload: made.TakeOffNow) -> None:
    if not facts.emergency_open:
        facts.emergency = Emergency(pressed_at=event.happened_at)
    _stop_light(facts, event)
    if facts.cycle is not None:
        facts.cycle.taken_off = True


def _emergency_step(facts: Tally, _event: Event, payload: made.EmergencyStepDone) -> None:
    if facts.emergency is not None:
        facts.emergency.done.add(payload.step)


def _take_off_reason(facts: Tally, _event: Event, payload: made.TakeOffReasonGiven) -> None:
    if facts.emergency is not None:
        facts.emergency.reason = payload


def _contact(facts: Tally, event: Event, payload: made.Contact) -> None:
    facts.touched.append(Touched(seq=event.seq, contact=payload, at=event.happened_at))


def _contact_settled(facts: Tally, event: Event, payload: made.ContactSettled) -> None:
    for touched in facts.touched:
        if touched.seq == payload.contact:
            touched.settled_at, touched.settled = event.happened_at, payload


def _undo(facts: Tally, event: Event, payload: made.Undo) -> None:
    """A contact that is taken back stands as entered by mistake; what first aid settled already stays so."""
    for touched in facts.touched:
        if touched.seq == payload.seq and touched.settled_at is None:
            settled = made.ContactSettled(contact=touched.seq, action=FirstAid.MISTAKE)
            touched.settled_at, touched.settled = event.happened_at, settled


def _barrier(facts: Tally, _event: Event, payload: made.Barrier) -> None:
    facts.pieces_in, facts.placed, facts.cured = payload.pieces, True, not facts.plan.resin_barrier
    facts.done.discard(Step.BARRIER_OFF)
    facts.done -= {Step.BARRIER, Step.INSPECTION}
    if facts.cured:
        _tick(facts, Step.BARRIER)


def _cured(facts: Tally, _event: Event, _payload: made.Cured) -> None:
    facts.cured = True
    if facts.placed:
        _tick(facts, Step.BARRIER)


def _barrier_off(facts: Tally, event: Event, payload: made.BarrierOff) -> None:
    if payload.pieces_out != (facts.pieces_in or 0):
        facts.mark(event, Beyond.PIECES_DIFFER)
    facts.placed = facts.cured = False
    # With another cycle it has to be placed and looked at anew.
    facts.done -= {Step.BARRIER, Step.INSPECTION}


def _eyewear(facts: Tally, _event: Event, _payload: made.Eyewear) -> None:
    facts.done.discard(Step.EYEWEAR_OFF)


def _eyewear_off(facts: Tally, _event: Event, _payload: made.EyewearOff) -> None:
    facts.done.discard(Step.EYEWEAR)


def _photographs(facts: Tally, _event: Event, payload: made.Photographs) -> None:
    _tick(facts, Step.START_PHOTOS if payload.moment is PictureMoment.START else Step.FINISH_PHOTOS)


def _people(facts: Tally, _event: Event, payload: made.People) -> None:
    facts.people = payload


def _care(facts: Tally, event: Event, payload: made.CareTaken) -> None:
    facts.care.setdefault(payload.finding, event)


def _start_shade(facts: Tally, _event: Event, payload: made.StartShade) -> None:
    facts.start_shade = payload.tab


def _final_shade(facts: Tally, _event: Event, payload: made.FinalShade) -> None:
    facts.final_shade = payload.tab


def _words(facts: Tally, event: Event, _payload: made.Words) -> None:
    facts.words_seq = event.seq


def _skipped(facts: Tally, event: Event, payload: made.Skipped) -> None:
    facts.skipped.add(payload.step)
    if payload.step in SAFETY:
        facts.mark(event, Beyond.SAFETY_SKIPPED)


# The payload's class follows from the kind; the table says it once for all of them.
_HANDLERS: Mapping[Kind, Callable[[Tally, Event, Any], None]] = {
    Kind.PEOPLE: _people,
    Kind.CARE: _care,
    Kind.START_SHADE: _start_shade,
    Kind.PHOTOGRAPHS: _photographs,
    Kind.EYEWEAR: _eyewear,
    Kind.BARRIER: _barrier,
    Kind.CURED: _cured,
    Kind.MIX_STARTED: _mix_started,
    Kind.MIX_DISCARDED: _mix_discarded,
    Kind.GEL_ON: _gel_on,
    Kind.LIGHT_ON: _light_on,
    Kind.LIGHT_OFF: _light_off,
    Kind.LIGHT_MOVED: _light_moved,
    Kind.GEL_OFF: _gel_off,
    Kind.SENSITIVITY: _sensitivity,
    Kind.DECIDED: _decided,
    Kind.TAKE_OFF_NOW: _take_off_now,
    Kind.EMERGENCY_STEP: _emergency_step,
    Kind.TAKE_OFF_REASON: _take_off_reason,
    Kind.CONTACT: _contact,
    Kind.CONTACT_SETTLED: _contact_settled,
    Kind.BARRIER_OFF: _barrier_off,
    Kind.EYEWEAR_OFF: _eyewear_off,
    Kind.FINAL_SHADE: _final_shade,
    Kind.WORDS: _words,
    Kind.ENDED_EARLY: _ended_early,
    Kind.SKIPPED: _skipped,
    Kind.UNDO: _undo,
}
