"""A clinician puts a case off until a day, with a reason, and lifts that again."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.actions.life import hold_open
from whitening.cases.models import Case

# Further off it is another course: that case is closed, and a new one opened then.
LONGEST = timedelta(days=2 * 365)


class NotAhead(Refusal):
    code = "cases.not_ahead"
    sentence = _("A case is put off until a day after today, within two years. Pick another day.")


class PutOffMeanwhile(Refusal):
    code = "cases.put_off_meanwhile"
    sentence = _("A colleague has changed this case meanwhile. Read how it stands now; then decide again.")


class NotPutOff(Refusal):
    code = "cases.not_put_off"
    sentence = _("This case is not put off any more.")


def put_off(*, case: Case, until: date, reason: str, version: int, user: User, actor: Actor, now: datetime) -> Case:
    """No session before that day. version: the one that was on the page.

    Visits that are booked before it stay where they are: Today lists them to be moved. Raises NotAhead,
    PutOffMeanwhile, CaseClosed, CoverRunOut.
    """
    today = _check(case, user, now)
    if not today < until <= today + LONGEST:
        raise NotAhead
    with transaction.atomic():
        if hold_open(case).version != version:
            raise PutOffMeanwhile
        changed = {"deferred_until": until, "deferred_because": reason, "deferred_by": actor.name}
        return _keep(case, "cases.put_off", changed, actor, {"until": until.isoformat(), "reason": reason})


def lift(*, case: Case, version: int, user: User, actor: Actor, now: datetime) -> Case:
    """version: the one that was on the page. A colleague may have put it off anew, for a reason nobody has read here.

    Raises NotPutOff, PutOffMeanwhile, CaseClosed, CoverRunOut.
    """
    _check(case, user, now)
    with transaction.atomic():
        held = hold_open(case)
        was = held.deferred_until
        if was is None:
            raise NotPutOff
        if held.version != version:
            raise PutOffMeanwhile
        nothing = {"deferred_until": None, "deferred_because": "", "deferred_by": ""}
        return _keep(case, "cases.put_off_lifted", nothing, actor, {"until": was.isoformat()})


def _check(case: Case, user: User, now: datetime) -> date:
    require(user, Capability.EXAMINE_AND_DECIDE, case.site)
    today = now.astimezone(case.site.zone).date()
    require_in_date(user, today)
    return today


def _keep(case: Case, verb: str, changed: Mapping[str, object], actor: Actor, values: Mapping[str, object]) -> Case:
    Case.objects.filter(pk=case.pk).update(version=F("version") + 1, **changed)
    record(
        verb=verb,
        actor=actor,
        subject=("case", case.pk),
        patient_id=case.patient_id,
        site_id=case.site_id,
        values=values,
    )
    case.refresh_from_db(fields=["version", *changed])
    return case
