"""The clock of the demo: one row says how far the practice's time runs ahead.

Sign-in, brute-force limits and the trail keep real time; the trail notes the shift with each entry.
"""

import time
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from importlib import import_module

from celery import current_app
from django.apps import apps
from django.db import transaction
from django.utils.module_loading import module_has_submodule

from clinic.messages.sweep import sweep_until_settled
from clinic.trail import clock
from clinic.trail.actor import Actor
from clinic.trail.record import record
from whitening.demo.models import DemoClock

# Every process asks the table at most once a second.
FRESH_SECONDS = 1.0
# Time passes in steps, so that what is due on the way goes out on the way and is not found too late.
STEP = timedelta(hours=6)
# What the beat would have rung meanwhile; messages last, because the others plan them.
TICKS = ("diary.lapse", "recall.tick")


@dataclass
class _Held:
    shift: timedelta = timedelta(0)
    read_at: float = field(default=float("-inf"))


_held = _Held()


def shift() -> timedelta:
    """Named in the settings as CLOCK_SHIFT; called by every reading of the practice's time."""
    read_at = time.monotonic()
    if read_at - _held.read_at > FRESH_SECONDS:
        row = DemoClock.objects.filter(pk=1).first()
        _held.shift, _held.read_at = row.shift if row else timedelta(0), read_at
    return _held.shift


def forget() -> None:
    """The next reading asks the table."""
    _held.read_at = float("-inf")


def jump(*, by: timedelta, actor: Actor, site_id: int | None) -> datetime:
    """Moves the clock ahead and lives through everything that falls due on the way. Returns the new time."""
    if by <= timedelta(0):
        raise ValueError("The demo's clock runs ahead only.")
    forget()
    target = shift() + by
    while _held.shift < target:
        _set(min(_held.shift + STEP, target), actor)
        ring()
    with transaction.atomic():
        record(
            verb="demo.clock_moved",
            actor=actor,
            subject=("demo_clock", 1),
            patient_id=None,
            site_id=site_id,
            values={"by": by, "shift": target},
        )
    return clock.now()


def ring() -> None:
    """One round of what the beat rings, in this process."""
    for config in apps.get_app_configs():
        if config.module is not None and module_has_submodule(config.module, "tasks"):
            import_module(f"{config.name}.tasks")
    for name in TICKS:
        if name in current_app.tasks:
            current_app.tasks[name]()
    sweep_until_settled(now=clock.now())


def _set(ahead: timedelta, actor: Actor) -> None:
    values = {"shift": ahead, "moved_at": clock.real_now(), "moved_by": actor.name}
    DemoClock.objects.update_or_create(pk=1, defaults=values)
    _held.shift, _held.read_at = ahead, time.monotonic()


def override(ahead: timedelta) -> tuple[timedelta, float]:
    """For the loader of the demo world: this process alone lives at another time until put_back."""
    before = (_held.shift, _held.read_at)
    _held.shift, _held.read_at = ahead, float("inf")
    return before


def put_back(before: tuple[timedelta, float]) -> None:
    _held.shift, _held.read_at = before
