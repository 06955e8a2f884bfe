"""The day's list gone through on the case's page while the session runs: its log holds that, and who asked."""

from datetime import datetime

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, may
from clinic.trail.actor import Actor
from whitening.cases.models import Case
from whitening.chairside.actions.recording import locked, note_recorded, within
from whitening.chairside.actions.rows import write
from whitening.chairside.models import Session
from whitening.chairside.protocol.events import ON_THE_CASE
from whitening.chairside.protocol.payloads import Person, Reask
from whitening.screening.models import Reask as ReaskRow
from whitening.screening.running import WayBack


def hold(*, case: Case) -> None:
    """The session before its case, as a closing locks them too: neither waits for the other."""
    session = _running(case)
    if session is not None:
        locked(session)


def asked_again(*, reask: ReaskRow, user: User, actor: Actor, now: datetime) -> None:
    """Also where something was new: that it was asked is true, and what it means for the session the gates say."""
    session = _running(reask.case)
    if session is None:
        return
    rows = write(
        session,
        payloads=(Reask(asked_by=Person(id=user.pk, name=user.name), shown=".".join(reask.shown)),),
        client_id=f"{ON_THE_CASE}{reask.pk}",
        happened_at=within(session, reask.asked_at, now),
        actor=actor,
        recorded_at=now,
    )
    note_recorded(session, rows, actor, now)


def way_back(*, case: Case, user: User) -> WayBack | None:
    session = _running(case)
    if session is None or not may(user, Capability.CHAIRSIDE_RECORD, case.site):
        return None
    return WayBack(reverse("chairside", args=[session.pk]), _("Back to the chair"))


def _running(case: Case) -> Session | None:
    return Session.objects.open().filter(case=case).first()
