"""Before the chair: who it is, and opening the session once every gate is open."""

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary import actions as diary
from clinic.diary.models import Booking, Status
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case, Plan
from whitening.chairside.actions.rows import write
from whitening.chairside.models import IdentityCheck, Session
from whitening.chairside.protocol.events import OPENING
from whitening.chairside.protocol.payloads import Person, Reask

_COMING = {Status.BOOKED, Status.ARRIVED}


class GatesShut(Refusal):
    code = "chairside.gates_shut"
    sentence = _("The session cannot start yet. Settle first: %(gates)s.")


class OutOfDate(Refusal):
    code = "chairside.out_of_date"
    sentence = _(
        "Your registration or indemnity has run out, so you cannot open a session. Ask a manager to enter the new "
        "date under People; until then somebody else opens it."
    )


class SessionRunning(Refusal):
    code = "chairside.session_running"
    sentence = _("A session of this case is open already. Go on in that one, or close it first.")


def confirm_identity(*, case: Case, user: User, actor: Actor, now: datetime) -> IdentityCheck:
    """The patient said name and date of birth, and they are those of this case."""
    require(user, Capability.SESSION_OPEN, case.site)
    with transaction.atomic():
        asked_on = now.astimezone(case.site.zone).date()
        check = IdentityCheck.objects.create(case=case, asked_at=now, asked_on=asked_on, asked_by=user)
        record(
            verb="chairside.identity_asked",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values={},
        )
    return check


def open_session(
    *,
    case: Case,
    plan: Plan,
    booking: Booking | None,
    shut_gates: Sequence[StrOrPromise],
    user: User,
    actor: Actor,
    now: datetime,
) -> Session:
    """Called by the part that evaluates the gates; `shut_gates` are the titles of those still shut.

    Raises OutOfDate, GatesShut, or SessionRunning when two people start the same session.
    """
    require(user, Capability.SESSION_OPEN, case.site)
    # Who may treat is never overridable: no gate and no decision stands in for it.
    if not user.in_date(now.astimezone(case.site.zone).date()):
        raise OutOfDate
    if shut_gates:
        raise GatesShut(gates=", ".join(str(title) for title in shut_gates))
    try:
        with transaction.atomic():
            session = _create(case=case, plan=plan, booking=booking, user=user, now=now)
            _record_reask(session, actor, now)
            if booking is not None and booking.status in _COMING:
                diary.check_in(booking=booking, actor=actor, now=now)
            record(
                verb="chairside.opened",
                actor=actor,
                subject=("session", session.pk),
                patient_id=case.patient_id,
                site_id=case.site_id,
                values={"number": session.number, "plan_version": plan.version},
            )
    except IntegrityError as error:
        if not Session.objects.open().filter(case=case).exists():
            raise
        raise SessionRunning from error
    return session


def _create(*, case: Case, plan: Plan, booking: Booking | None, user: User, now: datetime) -> Session:
    return Session.objects.create(
        case=case,
        plan=plan,
        booking=booking,
        site=case.site,
        number=Session.objects.filter(case=case).count() + 1,
        opened_at=now,
        opened_by=user,
    )


def _record_reask(session: Session, actor: Actor, now: datetime) -> None:
    """The day's re-ask opened a gate, so the log begins with it instead of asking the same again."""
    today = now.astimezone(session.site.zone).date()
    reask = session.case.reasks.filter(asked_on=today).order_by("asked_at", "pk").last()
    asked_by = User.objects.of_site(session.site).filter(name=reask.asked_by).first() if reask else None
    if reask is not None and asked_by is not None:
        payload = Reask(asked_by=Person(id=asked_by.pk, name=asked_by.name), shown=".".join(reask.shown))
        write(
            session,
            payloads=(payload,),
            client_id=f"{OPENING}{session.pk}",
            happened_at=reask.asked_at,
            actor=actor,
            recorded_at=now,
        )
