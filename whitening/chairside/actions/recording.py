"""Recording a tap: one or more entries at once, each tap once, also when it arrives late or twice."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may, require
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.chairside import log, registries
from whitening.chairside.actions.checking import NothingToUndo, said_meanwhile, taken
from whitening.chairside.actions.rows import write
from whitening.chairside.actions.shades import keep_shades
from whitening.chairside.models import BatchUse, Incident, IncidentStep, Session, SessionEvent, StepKind, UseKind
from whitening.chairside.protocol import payloads as made
from whitening.chairside.protocol.choices import FirstAid
from whitening.chairside.protocol.fold import fold
from whitening.chairside.protocol.kinds import Kind
from whitening.chairside.protocol.payloads import Payload


class EntryRefused(Refusal):
    """The sentence is the one of the payload that could not be true."""

    code = "chairside.entry_refused"
    sentence = _("%(why)s")


class PageUsed(Refusal):
    code = "chairside.page_used"
    sentence = _("Nothing was recorded: this page is older than the session. Look at it as it is now, then tap again.")


class SessionClosed(Refusal):
    code = "chairside.session_closed"
    sentence = _(
        "Nothing was recorded: %(by)s has closed this session. What happened since then belongs on the case's page."
    )


class WordsOfTheClinician(Refusal):
    code = "chairside.words_of_the_clinician"
    sentence = _("What went past a limit is explained by a clinician who may treat. Sign in as the clinician.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """`client_id` is made by the device, once for each tap; `happened_at` is when the finger touched.

    `seen` is how far the log reached that the screen showed; None where the screen may be behind, without a network.
    """

    payloads: tuple[Payload, ...]
    client_id: str
    happened_at: datetime
    seen: int | None = None


def record_event(
    *,
    session: Session,
    payload: Payload,
    client_id: str,
    happened_at: datetime,
    user: User,
    actor: Actor,
    now: datetime,
) -> list[SessionEvent]:
    tap = Tap(payloads=(payload,), client_id=client_id, happened_at=happened_at)
    return record_tap(session=session, tap=tap, user=user, actor=actor, now=now)


def record_tap(*, session: Session, tap: Tap, user: User, actor: Actor, now: datetime) -> list[SessionEvent]:
    """Past a limit, out of order, sent late: what happened is recorded. Refused are nonsense and a closed session."""
    require(user, Capability.CHAIRSIDE_RECORD, session.site)
    if any(isinstance(payload, made.Words) for payload in tap.payloads):
        _check_words(session, user)
    with transaction.atomic():
        session = locked(session)
        known = _known(session, tap)
        if known:
            return known
        _check_open(session, tap, now)
        payloads = taken(session, tap.payloads, now)
        same = said_meanwhile(session, payloads, tap.seen)
        if same:
            return same
        rows = write(
            session,
            payloads=payloads,
            client_id=tap.client_id,
            happened_at=within(session, tap.happened_at, now),
            actor=actor,
            recorded_at=now,
        )
        for row, payload in zip(rows, payloads, strict=True):
            _consequence(session, row, payload, actor)
        if rows:
            note_recorded(session, rows, actor, now)
            _follow_late(session, actor, now)
    return rows


def _check_words(session: Session, user: User) -> None:
    if not may(user, Capability.SESSION_CLOSE, session.site):
        raise WordsOfTheClinician


def _known(session: Session, tap: Tap) -> list[SessionEvent]:
    """The rows of a tap that came before. Raises PageUsed where its id stands for another tap."""
    known = written(session, tap.client_id)
    if known and {row.kind_code for row in known} != {payload.kind for payload in tap.payloads}:
        raise PageUsed
    return known


def _check_open(session: Session, tap: Tap, now: datetime) -> None:
    """What was tapped before the closing and could not be sent is recorded late; from then on nothing is."""
    if session.closed_at is None or within(session, tap.happened_at, now) < session.closed_at:
        return
    # Should gel that was recorded late still be on, taking it off stays possible.
    if not fold(log.read(session), log.plan_of(session, now=now), now).gel_on:
        raise SessionClosed(by=session.closed_by.name if session.closed_by else "")


def undo_tap(
    *, session: Session, tap: str, client_id: str, happened_at: datetime, user: User, actor: Actor, now: datetime
) -> list[SessionEvent]:
    """Takes back a tap by its device's own id: the device may not have learnt the numbers of its entries yet."""
    seqs = list(session.events.filter(client_id__startswith=f"{tap}.").order_by("-seq").values_list("seq", flat=True))
    if not seqs:
        raise NothingToUndo
    undos = Tap(payloads=tuple(made.Undo(seq=seq) for seq in seqs), client_id=client_id, happened_at=happened_at)
    return record_tap(session=session, tap=undos, user=user, actor=actor, now=now)


def locked(session: Session) -> Session:
    """The same session, its row held until the transaction ends, so that numbers are given one after the other."""
    rows = Session.objects.select_for_update(of=("self",))
    return rows.select_related("site", "case__site", "case__patient", "plan__product", "booking").get(pk=session.pk)


def written(session: Session, client_id: str) -> list[SessionEvent]:
    return list(session.events.filter(client_id__startswith=f"{client_id}.").order_by("seq"))


def within(session: Session, at: datetime, now: datetime) -> datetime:
    """A device whose clock is wrong must not put an entry before the session or into the future."""
    return max(session.opened_at, min(at, now))


def _consequence(session: Session, row: SessionEvent, payload: Payload, actor: Actor) -> None:
    """Rows of other tables that an entry brings about, in the same transaction."""
    if isinstance(payload, made.MixStarted):
        BatchUse.objects.create(
            batch_id=payload.batch, session=session, kind=UseKind.USED, used_at=row.happened_at, used_by=actor.name
        )
    elif isinstance(payload, made.Contact):
        Incident.objects.create(
            session=session,
            seq=row.seq,
            place=payload.place.value,
            happened_at=row.happened_at,
            noted_by=actor.name,
        )
    elif isinstance(payload, made.ContactSettled):
        _step(session, payload.contact, row, StepKind.SETTLED, action=payload.action.value, words=payload.words)
    elif isinstance(payload, made.Undo):
        _undone(session, row, payload)


def _undone(session: Session, row: SessionEvent, payload: made.Undo) -> None:
    """A contact taken back is settled as a mistake; a settlement taken back opens its contact again."""
    target = session.events.get(seq=payload.seq)
    if target.kind_code is Kind.CONTACT:
        _step(session, target.seq, row, StepKind.SETTLED, action=FirstAid.MISTAKE.value)
    elif target.kind_code is Kind.CONTACT_SETTLED:
        _step(session, target.data["contact"], row, StepKind.REOPENED)


def _follow_late(session: Session, actor: Actor, now: datetime) -> None:
    """Closing keeps the shades and causes what it knows of; what reaches the log only then does the same."""
    if session.closed_at is None:
        return
    events = log.read(session)
    keep_shades(session, events, actor=actor, now=now)
    needs_call = fold(events, log.plan_of(session, now=now), now).needs_call
    registries.came_late(session=session, needs_call=needs_call, actor=actor, now=now)


def _step(session: Session, seq: int, row: SessionEvent, kind: StepKind, *, action: str = "", words: str = "") -> None:
    incident = session.incidents.filter(seq=seq).first()
    if incident is not None:
        IncidentStep.objects.create(
            incident=incident, kind=kind, action=action, words=words, at=row.happened_at, by=row.actor_name
        )


def note_recorded(session: Session, rows: Sequence[SessionEvent], actor: Actor, now: datetime) -> None:
    state = fold(log.read(session), log.plan_of(session, now=now), now)
    seqs = [row.seq for row in rows]
    record(
        verb="chairside.recorded",
        actor=actor,
        subject=("session", session.pk),
        patient_id=session.case.patient_id,
        site_id=session.site_id,
        values={
            "entries": seqs,
            "kinds": [row.kind for row in rows],
            "past_limit": [mark.code.value for mark in state.past_limit if mark.seq in seqs],
        },
    )
