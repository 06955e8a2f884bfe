"""The interpreter signs, about exactly the words that were shown; on the telephone, by word to a named person."""

from dataclasses import dataclass, field
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.consent.actions.noting import note
from whitening.consent.actions.signing import frozen_text
from whitening.consent.models import ConsentText, InterpreterKind, InterpreterSignature, PaperReading, SignedBy
from whitening.consent.names import is_same_name
from whitening.consent.reading import interpreted, interpreter_of, standing, talk_about
from whitening.consent.rules import Strokes, is_drawn, why_not_signed
from whitening.consent.sealing import seal
from whitening.consent.seals import sealed_interpreter


class NobodyInterpreted(Refusal):
    code = "consent.nobody_interpreted"
    sentence = _("No talk with an interpreter is recorded about this plan. Record the talk first.")


class InterpreterSigned(Refusal):
    code = "consent.interpreter_signed"
    sentence = _("The interpreter has signed under these words already.")


class InterpreterCannotSign(Refusal):
    code = "consent.interpreter_cannot_sign"
    sentence = _("%(why)s")


@dataclass(frozen=True, slots=True, kw_only=True)
class InterpreterInput:
    """What the interpreter did on the screen; on the telephone, what was heard and typed."""

    name: str
    declared: bool
    seen_sha256: str
    strokes: Strokes = field(default_factory=list)
    typed: bool = False


def text_to_interpret(*, case: Case, now: datetime) -> ConsentText | None:
    """The words that the interpreter signs under: those that the patient signed, else those that will be."""
    held = standing(case)
    if held.signature is not None and held.signed_this_plan:
        return held.signature.text if interpreted(held.signature.text) else None
    plan = plan_in_force(case)
    talk = talk_about(plan) if plan else None
    if plan is None or talk is None or talk.interpreter == InterpreterKind.NONE:
        return None
    return frozen_text(case=case, plan=plan, talk=talk, now=now)


def interpreter_signs(
    *, case: Case, given: InterpreterInput, user: User, actor: Actor, now: datetime
) -> InterpreterSignature:
    """Raises NobodyInterpreted, InterpreterSigned, InterpreterCannotSign, CaseClosed."""
    require(user, Capability.CONSENT_WITNESS, case.site)
    try:
        with transaction.atomic():
            text = text_to_interpret(case=hold_open(case), now=now)
            if text is None:
                raise NobodyInterpreted
            if interpreter_of(text) is not None:
                raise InterpreterSigned
            return _kept(case, text, given, user, actor, now)
    except IntegrityError as error:
        raise InterpreterSigned from error


def signed_on_paper(reading: PaperReading, *, actor: Actor, signed_at: datetime) -> InterpreterSignature | None:
    """Beside the patient's own signature, within the caller's transaction; None where another one stands already."""
    if not reading.interpreter_signed or interpreter_of(reading.text) is not None:
        return None
    talk = reading.text.talk
    return _save(
        InterpreterSignature(
            text=reading.text,
            method=SignedBy.PAPER,
            signer_name=talk.interpreter_name,
            language=talk.interpreter_language,
            reading=reading,
            zone=reading.text.case.site.timezone,
            signed_at=signed_at,
        ),
        reading.text.case,
        actor,
    )


def _kept(
    case: Case, text: ConsentText, given: InterpreterInput, user: User, actor: Actor, now: datetime
) -> InterpreterSignature:
    by_phone = text.talk.interpreter == InterpreterKind.PHONE
    drawn = [] if given.typed or by_phone else given.strokes
    why = why_not_signed(name=given.name, declared=given.declared, drawn=is_drawn(drawn), typed=given.typed or by_phone)
    if why is None and text.sha256 != given.seen_sha256:
        why = _("The text has changed since this page was opened. Read it again, then sign.")
    if why is None and is_same_name(given.name, case.patient.name):
        why = _("This is the patient's own name. Whoever interpreted signs with theirs.")
    if why is not None:
        raise InterpreterCannotSign(why=why)
    if text.pk is None:
        text.save()
    method = SignedBy.HEARD if by_phone else SignedBy.TYPED if given.typed else SignedBy.STROKES
    return _save(
        InterpreterSignature(
            text=text,
            method=method,
            signer_name=given.name,
            language=text.talk.interpreter_language,
            strokes=drawn,
            heard_by=user if by_phone else None,
            zone=case.site.timezone,
            signed_at=now,
        ),
        case,
        actor,
    )


def _save(row: InterpreterSignature, case: Case, actor: Actor) -> InterpreterSignature:
    row.sha256 = seal(sealed_interpreter(row))
    row.save(force_insert=True)
    values = {"text_sha256": row.text.sha256, "sha256": row.sha256, "method": str(row.method), "name": row.signer_name}
    note("consent.interpreted", case, actor, values)
    return row
