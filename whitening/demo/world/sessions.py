"""A session lived at the chair: the offers of the protocol are tapped, with the shades the demo wants."""

import uuid
from datetime import datetime, timedelta
from random import Random

from whitening.chairside import log
from whitening.chairside.actions import Tap, close_session, record_tap
from whitening.chairside.models import Session
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.payloads import FinalShade, Sensitivity, StartShade
from whitening.chairside.protocol.state import Offer, SessionState
from whitening.demo.world.lives import Life
from whitening.demo.world.passing import living_at

TAPS_MOST = 120
BETWEEN_TAPS = timedelta(seconds=45)


class StuckAtTheChair(RuntimeError):
    """The protocol offered nothing more although the session is not ready to close."""


def treat(life: Life, session: Session, *, start: str, finish: str, until: datetime | None = None) -> Session:
    """From the first tap to closing, or until then, with this starting and this (provisional) final shade."""
    dentist = life.house.one("dentist")
    # Nothing around this chair changes meanwhile: the plan and its limits are read once.
    plan = log.plan_of(session, now=life.now)
    for _tap in range(TAPS_MOST):
        if until is not None and life.now >= until:
            return session
        state = fold(log.read(session), plan, life.now)
        if state.can_close:
            with living_at(life.now):
                return close_session(
                    session=session, client_id=str(uuid.uuid4()), user=dentist, actor=dentist.actor, now=life.now
                )
        offer = _choose(state, life.random, start, finish)
        if offer is None:
            # Gel or light is running: nothing is offered until its clock says so.
            life.now = state.next_at or life.now + BETWEEN_TAPS
        else:
            _tap_once(life, session, offer)
            life.now += BETWEEN_TAPS
    raise StuckAtTheChair(str(state.step))


def _tap_once(life: Life, session: Session, offer: Offer) -> None:
    dentist = life.house.one("dentist")
    tap = Tap(payloads=offer.payloads, client_id=str(uuid.uuid4()), happened_at=life.now)
    with living_at(life.now):
        record_tap(session=session, tap=tap, user=dentist, actor=dentist.actor, now=life.now)


def _choose(state: SessionState, random: Random, start: str, finish: str) -> Offer | None:
    """The usual offer, except where the demo wants a certain shade or a plausible sensitivity."""
    wanted = {StartShade: start, FinalShade: finish}
    feels = random.choices(range(5), weights=(40, 30, 15, 10, 5))[0]
    usable = [offer for offer in state.offers if offer.payloads]
    for offer in usable:
        first = offer.payloads[0]
        if isinstance(first, StartShade | FinalShade) and first.tab == wanted[type(first)]:
            return offer
        if isinstance(first, Sensitivity) and first.score == feels:
            return offer
    return usable[0] if usable else None
