"""What the clocks say at one moment. Each is computed from the instants in the log, never counted up."""

from datetime import datetime, timedelta

from whitening.chairside.protocol.choices import Arch, LightKind
from whitening.chairside.protocol.facts import Light, Mix, Stretch, Tally
from whitening.chairside.protocol.limits import SessionPlan
from whitening.chairside.protocol.state import Clock, ClockKind, LightState, MixState


def elapsed_seconds(since: datetime, now: datetime) -> float:
    """Never negative, also when the device that tapped runs ahead."""
    return max(0.0, (now - since).total_seconds())


def longest(facts: Tally) -> Stretch | None:
    """The gel that has been on for the longest time."""
    return min(facts.running.values(), key=lambda stretch: (stretch.on_at, stretch.arch), default=None)


def running_seconds(facts: Tally, now: datetime) -> float:
    stretch = longest(facts)
    return 0.0 if stretch is None else elapsed_seconds(stretch.on_at, now)


def contact_seconds(facts: Tally, now: datetime) -> float:
    """Of the arch that has had most, gel that is still on included."""
    return max(
        facts.seconds(arch) + (elapsed_seconds(facts.running[arch].on_at, now) if arch in facts.running else 0.0)
        for arch in Arch
    )


def gel_clocks(facts: Tally) -> list[Clock]:
    most = timedelta(seconds=facts.plan.cycle_seconds_most)
    number = facts.cycles[-1].number if facts.cycles else 0
    return [
        Clock(kind=ClockKind.GEL, started_at=each.on_at, limit_at=each.on_at + most, arch=each.arch, cycle=number)
        for each in sorted(facts.running.values(), key=lambda stretch: (stretch.on_at, stretch.arch))
    ]


def light_places(plan: SessionPlan) -> tuple[tuple[str, ...], int]:
    """Where the light goes one after the other, and the seconds at each place."""
    if plan.light is LightKind.HAND_HELD and plan.teeth:
        return plan.teeth, plan.seconds_per_tooth
    if plan.light is LightKind.ARCH:
        return tuple(arch.value for arch in plan.arch_list), plan.minutes_per_arch * 60
    return (), 0


def light_state(facts: Tally, now: datetime) -> LightState | None:
    """None once it is off: switched off, or at the end of its clock."""
    light = facts.light
    if light is None or light.stopped_at is not None:
        return None
    places, seconds = light_places(facts.plan)
    if not places:
        # A light nobody planned: it shines until somebody says that it is off.
        return LightState(place="", position=0, places=(), started_at=light.on_at, next_at=None, ends_at=None)
    return _moving(light, places, seconds, now)


def _moving(light: Light, places: tuple[str, ...], seconds: int, now: datetime) -> LightState | None:
    position = light.from_position + int(elapsed_seconds(light.from_at, now) // seconds)
    if position >= len(places):
        return None
    moves = position - light.from_position
    return LightState(
        place=places[position],
        position=position,
        places=places,
        started_at=light.on_at,
        next_at=light.from_at + timedelta(seconds=seconds * (moves + 1)),
        ends_at=light.from_at + timedelta(seconds=seconds * (len(places) - light.from_position)),
    )


def mix_state(facts: Tally, mix: Mix, now: datetime) -> MixState:
    life = facts.plan.mix_life_minutes
    expires_at = None if life is None else mix.started_at + timedelta(minutes=life)
    in_time = expires_at is None or now < expires_at
    return MixState(
        number=mix.number,
        batch=mix.batch,
        batch_number=mix.batch_number,
        started_at=mix.started_at,
        expires_at=expires_at,
        usable=in_time and not mix.discarded and mix.batch not in facts.plan.held_batches,
        discarded=mix.discarded,
    )


def usable_mix(facts: Tally, now: datetime) -> MixState | None:
    """The newest that may still be used."""
    states = (mix_state(facts, mix, now) for mix in reversed(facts.mixes))
    return next((state for state in states if state.usable), None)


def mix_clocks(facts: Tally, now: datetime) -> list[Clock]:
    states = [mix_state(facts, mix, now) for mix in facts.mixes]
    return [
        Clock(kind=ClockKind.MIX, started_at=state.started_at, limit_at=state.expires_at)
        for state in states
        # What is left of a mix is nobody's business once the session is closed.
        if state.usable and not facts.closed
    ]


def all_clocks(facts: Tally, light: LightState | None, now: datetime) -> tuple[Clock, ...]:
    """The one to show biggest comes first: gel on teeth before anything else."""
    shining = (
        [] if light is None else [Clock(kind=ClockKind.LIGHT, started_at=light.started_at, limit_at=light.ends_at)]
    )
    return (*gel_clocks(facts), *shining, *mix_clocks(facts, now))


def next_change(facts: Tally, light: LightState | None, now: datetime) -> datetime | None:
    """When the screen will be different although nobody taps."""
    instants = [clock.limit_at for clock in all_clocks(facts, light, now)]
    if light is not None:
        instants.append(light.next_at)
    stretch = longest(facts)
    if stretch is not None:
        plan = facts.plan
        marks = (plan.cycle_seconds_least, plan.cycle_seconds_planned, plan.cycle_seconds_most)
        instants.extend(stretch.on_at + timedelta(seconds=seconds) for seconds in marks)
    return min((instant for instant in instants if instant is not None and instant > now), default=None)
