"""Countersigning what the patient signed, once everybody who has to sign has signed."""

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.consent.actions.noting import note
from whitening.consent.models import Countersignature
from whitening.consent.reading import standing
from whitening.consent.sealing import seal
from whitening.consent.seals import sealed_countersignature


class CountersignedAlready(Refusal):
    code = "consent.countersigned_already"
    sentence = _("This consent is countersigned already.")


class NothingToCountersign(Refusal):
    code = "consent.nothing_to_countersign"
    sentence = _("The patient has not signed this plan yet. Countersign after that.")


class InterpreterFirst(Refusal):
    code = "consent.interpreter_first"
    sentence = _("The talk was interpreted, and the interpreter has not signed yet. Let the interpreter sign first.")


def countersign(*, case: Case, user: User, actor: Actor, now: datetime) -> Countersignature:
    """Raises NothingToCountersign, CountersignedAlready, InterpreterFirst, CoverRunOut or CaseClosed."""
    require(user, Capability.COUNTERSIGN, case.site)
    require_in_date(user, now.astimezone(case.site.zone).date())
    try:
        with transaction.atomic():
            held = standing(hold_open(case))
            if held.signature is None or not held.signed_this_plan:
                raise NothingToCountersign
            if held.countersignature is not None:
                raise CountersignedAlready
            if held.lacks_interpreter:
                raise InterpreterFirst
            row = Countersignature(signature=held.signature, countersigned_at=now, countersigned_by=user)
            row.sha256 = seal(sealed_countersignature(row))
            row.save()
            note("consent.countersigned", case, actor, {"signature": held.signature.pk})
    except IntegrityError as error:
        raise CountersignedAlready from error
    return row
