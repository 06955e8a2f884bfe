"""Withdrawing: one tap, by the patient or on the patient's word, at any moment."""

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.consent.models import PaperReading, PaperWithdrawal, Withdrawal
from whitening.consent.reading import standing
from whitening.consent.sealing import seal
from whitening.consent.seals import sealed_paper_withdrawal, sealed_withdrawal


class NothingToWithdraw(Refusal):
    code = "consent.nothing_to_withdraw"
    sentence = _("Nothing is signed, so there is nothing to withdraw. Tell us if you do not want to go on.")


class AlreadyWithdrawn(Refusal):
    code = "consent.already_withdrawn"
    sentence = _("This consent is withdrawn already. Nothing more will be done under it.")


class SignedAnew(Refusal):
    code = "consent.signed_anew"
    sentence = _("The patient has signed anew since. Withdraw that one if this is what they want.")


def withdraw(*, case: Case, words: str, actor: Actor, now: datetime, signature_id: int | None = None) -> None:
    """At any time, also under a changed plan or a closed case. signature_id: the signature on the page that asks.

    A signed paper that waits for its second person is withdrawn with it, and counts for nothing any more.
    Raises NothingToWithdraw, AlreadyWithdrawn or SignedAnew.
    """
    try:
        with transaction.atomic():
            # Not before a signature that is being written right now, and not beside another withdrawal.
            held = standing(Case.objects.select_for_update().get(pk=case.pk))
            waiting = list(PaperReading.objects.waiting().filter(text__case=case))
            if held.signature is None and not waiting:
                raise NothingToWithdraw
            if signature_id is not None and held.signature is not None and held.signature.pk != signature_id:
                raise SignedAnew
            if held.withdrawal is not None and not waiting:
                raise AlreadyWithdrawn
            said = {"words": words, "withdrawn_at": now, "withdrawn_by": actor.name}
            for reading in waiting:
                on_paper = PaperWithdrawal(reading=reading, **said)
                on_paper.sha256 = seal(sealed_paper_withdrawal(on_paper))
                on_paper.save()
            if held.signature is not None and held.withdrawal is None:
                row = Withdrawal(signature=held.signature, **said)
                row.sha256 = seal(sealed_withdrawal(row))
                row.save()
            record(
                verb="consent.withdrawn",
                actor=actor,
                subject=("case", case.pk),
                patient_id=case.patient_id,
                site_id=case.site_id,
                values={"words": words},
            )
    except IntegrityError as error:
        raise AlreadyWithdrawn from error
