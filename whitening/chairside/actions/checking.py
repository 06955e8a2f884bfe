"""What a tap says, looked at before it is written: what is not known here is refused, what stands already is left."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from clinic.trail.refusals import Refusal
from whitening.chairside import care, log, registries
from whitening.chairside.asked_again import ids_of, items_for
from whitening.chairside.models import Batch, Session, SessionEvent
from whitening.chairside.protocol import history
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads import Payload, Person
from whitening.screening.reask import all_as_before


class UnknownBatch(Refusal):
    code = "chairside.unknown_batch"
    sentence = _("That batch is not of this session's product here. Look it up under Materials.")


class UnknownStep(Refusal):
    code = "chairside.unknown_step"
    sentence = _("That step is not one of this list. Reload the page and tap again.")


class NothingToUndo(Refusal):
    code = "chairside.nothing_to_undo"
    sentence = _("That entry is not in this session's log. Reload the page and look again.")


class StaysAsItIs(Refusal):
    code = "chairside.stays_as_it_is"
    sentence = _("That entry is not taken back here: it was recorded on the case's page, or was settled since.")


class ClosingIsItsOwn(Refusal):
    code = "chairside.closing_is_its_own"
    sentence = _("A session is closed by its own button, by a clinician.")


class MayNotTreat(Refusal):
    code = "chairside.may_not_treat"
    sentence = _(
        "%(name)s may not treat here today: that needs a clinician who may carry this out, with registration and "
        "indemnity in date. Pick another clinician."
    )


def taken(session: Session, payloads: Sequence[Payload], now: datetime) -> tuple[Payload, ...]:
    """As they are written. An undo of what another screen has taken back already adds nothing."""
    filled = tuple(_filled_in(session, payload, now) for payload in payloads)
    undos = {payload.seq for payload in filled if isinstance(payload, made.Undo)}
    if not undos:
        return filled
    _check_undos(session, undos, now)
    gone = history.undone(log.read(session))
    return tuple(payload for payload in filled if not (isinstance(payload, made.Undo) and payload.seq in gone))


def said_meanwhile(session: Session, payloads: Sequence[Payload], seen: int | None) -> list[SessionEvent]:
    """Two screens, one deed: what another screen has recorded since, and this one did not show yet, counts once.

    A contact is never taken for another one.
    """
    if seen is None or any(payload.kind is Kind.CONTACT for payload in payloads):
        return []
    gone = history.undone(log.read(session))
    later = [row for row in session.events.filter(seq__gt=seen).order_by("seq") if row.seq not in gone]
    found = [
        next((row for row in later if _says_the_same(log.event_of(row).payload, payload)), None) for payload in payloads
    ]
    return [row for row in found if row is not None] if all(found) else []


def _says_the_same(one: Payload, other: Payload) -> bool:
    """In what the people said: a gate that shut between two taps of one deed does not make it two."""
    if type(one) is not type(other):
        return False
    own = {name: getattr(one, name) for name in one.filled_in}
    return one == replace(other, **own)


def _filled_in(session: Session, payload: Payload, now: datetime) -> Payload:
    if isinstance(payload, made.Closed):
        raise ClosingIsItsOwn
    if isinstance(payload, made.MixStarted):
        return _mix(session, payload, now)
    if isinstance(payload, made.GelOn):
        return _gel(session, payload, now)
    if isinstance(payload, made.People):
        _check_treats(session, payload.clinician, now)
    if isinstance(payload, made.CareTaken):
        return _care(payload)
    if isinstance(payload, made.Reask):
        return _reask(session, payload)
    return payload


def _check_treats(session: Session, clinician: Person, now: datetime) -> None:
    """Who may treat is never overridable (invariant 7), so nobody else stands in the record as the treating person."""
    day = now.astimezone(session.site.zone).date()
    if clinician.id not in log.who_may_treat(session, day):
        raise MayNotTreat(name=clinician.name)


def _mix(session: Session, payload: made.MixStarted, now: datetime) -> made.MixStarted:
    """Whether gates and batch allowed it is looked up now and kept in the entry: both can change later."""
    batch = Batch.objects.filter(site=session.site, product=session.plan.product, pk=payload.batch).first()
    if batch is None:
        raise UnknownBatch
    day = now.astimezone(session.site.zone).date()
    usable = Batch.objects.usable(day).filter(pk=batch.pk).exists()
    return replace(payload, number=batch.number, cleared=usable and registries.gates_stand(session, now))


def _gel(session: Session, payload: made.GelOn, now: datetime) -> made.GelOn:
    """Like a mix: gel that was put on is recorded whatever stood against it, and with what stood against it."""
    plan = log.plan_of(session, now=now)
    mixes = fold(log.read(session), plan, now).mixes
    held = any(mix.number == payload.mix and mix.batch in plan.held_batches for mix in mixes)
    return replace(payload, cleared=plan.gates_open and not held, agreed=plan.cycles_agreed)


def _care(payload: made.CareTaken) -> made.CareTaken:
    """With the words that were read: a later rule book may say it differently."""
    rule = care.numbered(payload.finding)
    if rule is None:
        raise UnknownStep
    return replace(payload, finding=rule.code, step=str(rule.at_the_chair))


def _reask(session: Session, payload: made.Reask) -> made.Reask:
    """Raises NotAllShown: the page does not count, only what the request says was in front of the patient."""
    items = items_for(session)
    shown = ids_of(payload.shown)
    all_as_before(items=items, shown=shown)
    return replace(payload, shown=".".join(item.id for item in items))


def _check_undos(session: Session, seqs: set[int], now: datetime) -> None:
    known = {event.seq: event for event in log.read(session)}
    if not seqs <= set(known):
        raise NothingToUndo
    settled = {each.seq for each in fold(known.values(), log.plan_of(session, now=now), now).contacts if not each.open}
    gone = history.undone(list(known.values()))
    if any(not history.may_be_undone(known[seq]) or (seq in settled and seq not in gone) for seq in seqs):
        raise StaysAsItIs
