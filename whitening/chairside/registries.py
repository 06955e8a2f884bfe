"""Where parts above this one join in: whether the gates still stand, what this patient needs done, and what closing
a session causes.

Chairside imports neither the casebook nor recall; they register themselves when the program starts.
"""

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Protocol

from django_stubs_ext import StrOrPromise

from clinic.trail.actor import Actor
from whitening.chairside.models import Session
from whitening.screening.outcome import Finding

# What stands against going on, in words that a patient may read over somebody's shoulder; empty while nothing does.
GateCheck = Callable[[Session, datetime], Sequence[StrOrPromise]]


class OnClosed(Protocol):
    """Runs in the transaction that closes the session: what raises here keeps it open."""

    def __call__(self, *, session: Session, needs_call: bool, actor: Actor, now: datetime) -> object: ...


class OnLate(Protocol):
    """Runs in the transaction that records an entry after the closing; more than once for one session."""

    def __call__(self, *, session: Session, needs_call: bool, actor: Actor, now: datetime) -> object: ...


# Findings that ask for a step at the chair.
CareCheck = Callable[[Session, datetime], Sequence[Finding]]

_gate_checks: list[GateCheck] = []
_care_checks: list[CareCheck] = []
_on_closed: list[OnClosed] = []
_on_late: list[OnLate] = []


def register_gate_check(check: GateCheck) -> None:
    if check not in _gate_checks:
        _gate_checks.append(check)


def register_care_check(check: CareCheck) -> None:
    if check not in _care_checks:
        _care_checks.append(check)


def register_on_closed(hook: OnClosed) -> None:
    if hook not in _on_closed:
        _on_closed.append(hook)


def register_on_late(hook: OnLate) -> None:
    if hook not in _on_late:
        _on_late.append(hook)


def against(session: Session, now: datetime) -> tuple[str, ...]:
    """A session opens with all gates open; a consent withdrawn or an answer given since then shuts them again."""
    return tuple(str(words) for check in _gate_checks for words in check(session, now))


def care(session: Session, now: datetime) -> tuple[Finding, ...]:
    return tuple(finding for check in _care_checks for finding in check(session, now))


def gates_stand(session: Session, now: datetime) -> bool:
    return not against(session, now)


def closed(*, session: Session, needs_call: bool, actor: Actor, now: datetime) -> None:
    for hook in _on_closed:
        hook(session=session, needs_call=needs_call, actor=actor, now=now)


def came_late(*, session: Session, needs_call: bool, actor: Actor, now: datetime) -> None:
    for hook in _on_late:
        hook(session=session, needs_call=needs_call, actor=actor, now=now)
