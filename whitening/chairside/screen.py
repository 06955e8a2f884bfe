"""What the chairside page shows, made from the state: buttons with their codes, words, and the steps ahead."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.choices import Choice
from whitening.chairside.protocol.codec import to_wire
from whitening.chairside.protocol.events import Event
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.kinds import Kind, Step
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.marks import LOUD, WHY_NO_MORE, Warn
from whitening.chairside.protocol.payloads import Decided
from whitening.chairside.protocol.state import Ask, Clock, ClockKind, Moment, Offer, SessionState, Standing, Waypoint

# So many steps are sent ahead, for a screen that loses its network.
STEPS_AHEAD = 8

HINTS: dict[Step, str | Promise] = {
    Step.STOP_SIGNAL: _("A raised hand stops everything. Let the patient try it."),
    Step.START_SHADE: _("Teeth wet, no tinted eyewear, chair light off. Is the room light normal?"),
    Step.FINAL_SHADE: _("Same light as at the start. Is the room light normal?"),
    Step.EYEWEAR: _("Patient, clinician, assistant and everybody else here."),
    Step.INSPECTION: _("By eye and by light: no gap, no gel path to the gum. Two different people."),
    Step.ADVICE: _("Give the sheet and say whom to call when it hurts."),
}
# Moments that lead to more gel, or would. A mix is in a hurry only then; later its clock is one of the small ones.
ONLY_MORE_GEL = frozenset({Moment.MIX, Moment.GEL_ON, Moment.DECISION})
GRID_MOMENTS = frozenset({Moment.SENSITIVITY, Moment.REASON})
GRIDS: dict[Step | Moment | None, str] = {
    Step.START_SHADE: "shades",
    Step.FINAL_SHADE: "shades",
    Moment.SENSITIVITY: "scores",
    Moment.REASON: "reasons",
}
GRID_STEPS = frozenset({Step.START_SHADE, Step.FINAL_SHADE, Step.ENDED_EARLY})


@dataclass(frozen=True, slots=True, kw_only=True)
class Button:
    label: str | Promise
    wire: str
    ask: Ask = Ask.NOTHING


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """A step as it will look if the first offer of each step before it is tapped."""

    after: str
    title: str | Promise
    next: Button | None
    choices: tuple[Button, ...]
    grid: str
    # The gel clock of this step begins with the tap that led here.
    clock_from_tap: bool
    # How long gel may be on at most: a screen without a network says by itself when that is over.
    most_seconds: int
    clock_stops: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    state: SessionState
    title: str | Promise
    hint: str | Promise
    next: Button | None
    choices: tuple[Button, ...]
    # Which list of equals the choices are, if they are one whose places are its own.
    grid: str
    also: tuple[Button, ...]
    # Gel is on: taking it off never lies below the fold. None where Next does it already.
    gel_off: Button | None
    asks: tuple[Ask, ...]
    undo: Button | None
    take_off: Button
    contacts: tuple[Button, ...]
    settle: tuple[Button, ...]
    # Each point with whether it is near: a low screen shows those only.
    path: tuple[tuple[Waypoint, bool], ...]
    clock: Clock | None
    other_clocks: tuple[Clock, ...]
    # Gel went on both arches at once: one clock tells for both.
    same_clock: bool
    # The unit that shines now: its own distance and heat warning stand beside the clock.
    light_unit: int | None
    loud: tuple[Warn, ...]
    why: tuple[Warn, ...]
    quiet: tuple[Warn, ...]
    ahead: tuple[Ahead, ...]
    emergency_ahead: tuple[Ahead, ...]
    tag: str
    closes: bool


def button(offer: Offer) -> Button:
    return Button(label=offer.label, wire=to_wire(offer.payloads), ask=offer.ask)


def title_of(state: SessionState) -> str | Promise:
    if state.step is None:
        return _("The session is closed")
    if state.moment in ONLY_MORE_GEL and _only_stops(state):
        # A question with one answer is none.
        return _("Stop here, unless this is settled") if state.against else _("The session stops here")
    return state.moment.label if state.moment is not None else state.step.label


def _only_stops(state: SessionState) -> bool:
    stop = Decided(choice=Choice.STOP_HERE)
    return [offer.payloads for offer in state.offers] == [(stop,)]


def hint_of(state: SessionState, plan: SessionPlan) -> str | Promise:
    if state.step is Step.PEOPLE and plan.clinician and plan.assistant and plan.clinician != plan.assistant:
        # One tap says that these two are here: the screen has to say who they are.
        return f"{plan.clinician.name} · {plan.assistant.name}"
    return HINTS.get(state.step, "") if state.step is not None else ""


def split(state: SessionState) -> tuple[Button | None, tuple[Button, ...]]:
    """One offer leads on at the bottom; a list of equals stands in the middle, and nothing is at the bottom."""
    buttons = tuple(button(offer) for offer in state.offers if offer.payloads)
    if state.moment in GRID_MOMENTS or (state.moment is None and state.step in GRID_STEPS):
        return None, buttons
    return (buttons[0], buttons[1:]) if buttons else (None, ())


def grid_of(state: SessionState) -> str:
    return GRIDS.get(state.moment or state.step, "")


def screen_of(*, events: Sequence[Event], plan: SessionPlan, now: datetime) -> Screen:
    state = fold(events, plan, now)
    first, choices = split(state)
    big, small = _clocks(state)
    return Screen(
        state=state,
        title=title_of(state),
        hint=hint_of(state, plan),
        next=first,
        choices=choices,
        grid=grid_of(state),
        also=tuple(button(offer) for offer in state.also if not _takes_off(offer)),
        gel_off=_gel_off(state),
        asks=tuple(offer.ask for offer in state.offers if offer.ask is not Ask.NOTHING),
        undo=button(state.undo) if state.undo else None,
        take_off=button(state.take_off),
        contacts=tuple(button(offer) for offer in state.contact_offers),
        settle=tuple(button(offer) for offer in state.settle_offers),
        path=_near(state),
        clock=big,
        other_clocks=tuple(each for each in small if big is None or not _same(each, big)),
        same_clock=big is not None and any(_same(each, big) for each in small),
        light_unit=plan.light_unit if state.light else None,
        loud=tuple(code for code in state.warnings if code in LOUD),
        why=tuple(code for code in state.warnings if code in WHY_NO_MORE),
        quiet=tuple(code for code in state.warnings if code not in LOUD | WHY_NO_MORE),
        ahead=_ahead(events, plan, state, now),
        emergency_ahead=_ahead(events, plan, replace(state, offers=(state.take_off,)), now),
        tag=tag(state),
        closes=any(payload.kind is Kind.CLOSED for offer in state.offers for payload in offer.payloads),
    )


def _takes_off(offer: Offer) -> bool:
    return any(payload.kind is Kind.GEL_OFF for payload in offer.payloads)


def _gel_off(state: SessionState) -> Button | None:
    if any(_takes_off(offer) for offer in state.offers[:1]):
        return None
    return next((button(offer) for offer in state.also if _takes_off(offer)), None)


def _clocks(state: SessionState) -> tuple[Clock | None, tuple[Clock, ...]]:
    """The biggest, and the others. While no gel may go on, a mix's clock leaves the place to what has to be done."""
    first = state.clocks[0] if state.clocks else None
    hurries = (state.moment is None and not state.over) or (state.moment in ONLY_MORE_GEL and not _only_stops(state))
    if first is None or (first.kind is ClockKind.MIX and (state.against or not hurries)):
        return None, state.clocks
    return first, state.clocks[1:]


def _same(one: Clock, other: Clock) -> bool:
    return one.kind is other.kind is ClockKind.GEL and one.started_at == other.started_at


def _near(state: SessionState) -> tuple[tuple[Waypoint, bool], ...]:
    here = next((place for place, point in enumerate(state.path) if point.standing is Standing.CURRENT), 0)
    return tuple((point, here - 1 <= place <= here + 2) for place, point in enumerate(state.path))


def tag(state: SessionState) -> str:
    """Changes whenever the screen would look different for another reason than a ticking clock."""
    shown = (
        state.version,
        state.step,
        state.moment,
        [(str(offer.label), offer.payloads) for offer in (*state.offers, *state.also, *state.settle_offers)],
        state.warnings,
        state.against,
        state.missing,
        state.light.place if state.light else "",
    )
    return sha256(repr(shown).encode()).hexdigest()[:16]


def _ahead(events: Sequence[Event], plan: SessionPlan, state: SessionState, now: datetime) -> tuple[Ahead, ...]:
    """Plays the first offers on in thought. Closing is never part of it: that needs the server."""
    log = list(events)
    steps: list[Ahead] = []
    while len(steps) < STEPS_AHEAD and state.step is not None:
        if not state.offers and state.next_at is not None:
            now = state.next_at
            state = fold(log, plan, now)
            continue
        if not state.offers or not state.offers[0].payloads or state.step is Step.CLOSE:
            break
        first, gel_was_on = state.offers[0], state.gel_on
        log += _played(log, first, now)
        state = fold(log, plan, now)
        # Where nothing is offered yet, the step shows what will be, once its time has come.
        then = fold(log, plan, state.next_at) if not state.offers and state.next_at else state
        leads, choices = split(then)
        steps.append(
            Ahead(
                after=to_wire(first.payloads),
                title=title_of(then),
                next=leads,
                choices=choices,
                grid=grid_of(then),
                clock_from_tap=state.gel_on and not gel_was_on,
                most_seconds=plan.cycle_seconds_most,
                clock_stops=gel_was_on and not state.gel_on,
            )
        )
    return tuple(steps)


def _played(log: Sequence[Event], offer: Offer, now: datetime) -> list[Event]:
    after = log[-1].seq if log else 0
    return [
        Event(
            seq=after + 1 + place,
            payload=payload,
            happened_at=now,
            recorded_at=now,
            actor_id="",
            actor_name="",
            client_id=f"ahead {after}.{place}",
        )
        for place, payload in enumerate(offer.payloads)
    ]
