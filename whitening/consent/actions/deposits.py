"""Recording what happened to a deposit. It is no clinical gate and no message speaks of it."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.consent.models import Deposit, DepositStep
from whitening.consent.quotes import held_of

_GOES = frozenset({DepositStep.RETURNED, DepositStep.KEPT})


class NoQuote(Refusal):
    code = "consent.no_quote"
    sentence = _("There is no quote for this plan yet. The dentist gives it with the talk about the plan.")


class ReasonWanted(Refusal):
    code = "consent.deposit_reason"
    sentence = _("Write why the deposit is kept. The patient may ask.")


class MoreThanHeld(Refusal):
    code = "consent.more_than_held"
    sentence = _("Only %(held)s of the deposit is held. Record what was received first, or enter a smaller amount.")


def record_deposit(
    *, case: Case, step: DepositStep, amount: Decimal, words: str, user: User, actor: Actor, now: datetime
) -> Deposit:
    """Also about a case that is closed: money goes back then. Raises NoQuote, ReasonWanted or MoreThanHeld."""
    require(user, Capability.DEPOSIT_RECORD, case.site)
    with transaction.atomic():
        # Two desks cannot both return the same money.
        case = Case.objects.select_for_update(of=("self",)).select_related("site").get(pk=case.pk)
        # The newest, whatever became of its plan: money that is held goes back all the same.
        quote = case.quotes.order_by("quoted_at", "pk").last()
        if quote is None:
            raise NoQuote
        if step == DepositStep.KEPT and not words.strip():
            raise ReasonWanted
        held = held_of(case, currency=quote.currency)
        if step in _GOES and amount > held:
            raise MoreThanHeld(held=f"{held} {quote.currency}")
        row = Deposit.objects.create(
            quote=quote, step=step, amount=amount, words=words.strip(), recorded_at=now, recorded_by=user
        )
        record(
            verb="consent.deposit_recorded",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values={"step": str(step), "amount": str(amount), "currency": quote.currency, "words": row.words},
        )
    return row
