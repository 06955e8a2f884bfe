"""Signing and countersigning. The exact words are frozen first; what was signed is hashed and drawn once."""

import hashlib
import json
from dataclasses import dataclass, field
from datetime import datetime

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import translation
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.documents import actions as documents
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Plan
from whitening.consent import wording
from whitening.consent.actions.photographs import choose_photographs
from whitening.consent.models import ConsentText, Countersignature, PhotoUse, Signature, SignedBy, Talk
from whitening.consent.plan_words import values
from whitening.consent.reading import quote_for, standing, talk_about
from whitening.consent.rules import SigningFacts, Strokes, why_not_sign
from whitening.screening.reading import jurisdiction_of

CONSENT = "consent"


class CannotSign(Refusal):
    code = "consent.cannot_sign"
    sentence = _("%(why)s")


class CountersignedAlready(Refusal):
    code = "consent.countersigned_already"
    sentence = _("This consent is countersigned already.")


class NothingToCountersign(Refusal):
    code = "consent.nothing_to_countersign"
    sentence = _("The patient has not signed this plan yet. Countersign after that.")


@dataclass(frozen=True, slots=True)
class SignatureInput:
    """What the patient did on the screen. seen_sha256 is the hash of the words that were shown."""

    name: str
    declared: bool
    seen_sha256: str
    device: str
    strokes: Strokes = field(default_factory=list)
    typed: bool = False
    photographs: dict[PhotoUse, bool] = field(default_factory=dict)


def frozen_text(*, case: Case, plan: Plan, talk: Talk, now: datetime) -> ConsentText:
    """The words for this plan as they stand now, unsaved unless they were frozen before with the same hash."""
    language = case.patient.language if case.patient.language in wording.wordings() else settings.LANGUAGE_CODE
    quote = quote_for(plan)
    if quote is None:
        raise CannotSign(why=_("There is no quote for this plan yet. The dentist records the talk first."))
    with translation.override(language):
        words = values(
            case=case,
            plan=plan,
            talk=talk,
            quote=quote,
            language_name=str(dict(settings.LANGUAGES)[language]),
        )
        body = wording.body(wording.fill(wording.wordings()[language], words))
    digest = wording.sha256(body)
    found = ConsentText.objects.filter(plan=plan, sha256=digest).first()
    return found or ConsentText(
        case=case,
        plan=plan,
        wording=wording.wordings()[language].version,
        language=language,
        body=body,
        sha256=digest,
        frozen_at=now,
    )


def sign(*, case: Case, given: SignatureInput, actor: Actor, now: datetime) -> Signature:
    """Raises CannotSign with what is missing. The PDF is drawn before the transaction, filed within it."""
    plan = plan_in_force(case)
    talk = talk_about(plan) if plan else None
    why = why_not_sign(_facts(case, plan, talk, given, now))
    if why is not None or plan is None or talk is None:
        raise CannotSign(why=why)
    text = frozen_text(case=case, plan=plan, talk=talk, now=now)
    if text.sha256 != given.seen_sha256:
        raise CannotSign(why=_("The text has changed since this page was opened. Read it again, then sign."))
    prepared = documents.prepare(
        kind=CONSENT,
        patient=case.patient,
        site=case.site,
        context=_sheet(case, text, given, now),
        language=text.language,
        title=_("Consent"),
        now=now,
    )
    with transaction.atomic():
        # Locked, so that two devices cannot sign the same plan twice.
        Case.objects.select_for_update().get(pk=case.pk)
        if standing(case).signed_this_plan:
            raise CannotSign(why=_("This is signed already. You need not do it again."))
        if text.pk is None:
            text.save()
        document = documents.file_away(prepared, subject=("case", case.pk), actor=actor)
        signature = _keep(case, plan, text, given, now, document_id=document.pk)
        choose_photographs(case=case, choices=given.photographs, actor=actor, now=now)
        _record("consent.signed", case, actor, {"text_sha256": text.sha256, "sha256": signature.sha256})
    return signature


def countersign(*, case: Case, user: User, actor: Actor, now: datetime) -> Countersignature:
    require(user, Capability.COUNTERSIGN, case.site)
    held = standing(case)
    if held.signature is None or not held.signed_this_plan:
        raise NothingToCountersign
    try:
        with transaction.atomic():
            row = Countersignature.objects.create(signature=held.signature, countersigned_at=now, countersigned_by=user)
            _record("consent.countersigned", case, actor, {"signature": held.signature.pk})
    except IntegrityError as error:
        if held.countersignature is None and not Countersignature.objects.filter(signature=held.signature).exists():
            raise
        raise CountersignedAlready from error
    return row


def _facts(case: Case, plan: Plan | None, talk: Talk | None, given: SignatureInput, now: datetime) -> SigningFacts:
    jurisdiction = jurisdiction_of(case)
    return SigningFacts(
        now=now,
        plan_in_force=plan is not None,
        talked_at=talk.talked_at if talk else None,
        can_decide=bool(talk and talk.can_decide),
        cooling_off_days=jurisdiction.cooling_off_days if jurisdiction else 0,
        already_signed=standing(case, plan=plan).signed_this_plan,
        name=given.name,
        declared=given.declared,
        has_strokes=bool(given.strokes),
        typed=given.typed,
    )


def _keep(
    case: Case, plan: Plan, text: ConsentText, given: SignatureInput, now: datetime, *, document_id: int
) -> Signature:
    method = SignedBy.STROKES if given.strokes else SignedBy.TYPED
    signed = {
        "text": text.sha256,
        "plan": plan.pk,
        "method": str(method),
        "name": given.name,
        "strokes": given.strokes,
        "device": given.device,
        "zone": case.site.timezone,
        "signed_at": now.isoformat(),
    }
    canonical = json.dumps(signed, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return Signature.objects.create(
        text=text,
        case=case,
        plan=plan,
        method=method,
        signer_name=given.name,
        strokes=given.strokes,
        device=given.device,
        zone=case.site.timezone,
        signed_at=now,
        sha256=hashlib.sha256(canonical.encode("utf-8")).hexdigest(),
        document_id=document_id,
    )


def _sheet(case: Case, text: ConsentText, given: SignatureInput, now: datetime) -> dict[str, object]:
    return {
        "elements": wording.elements_of(text.body),
        "text": text,
        "signer": given.name,
        "typed": not given.strokes,
        "paths": [" L ".join(f"{x} {y}" for x, y, _ms in stroke) for stroke in given.strokes],
        "photographs": [(PhotoUse(use).label, allowed) for use, allowed in given.photographs.items()],
        "signed_at": now.astimezone(case.site.zone),
        "zone": case.site.timezone,
    }


def _record(verb: str, case: Case, actor: Actor, values: dict[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("case", case.pk),
        patient_id=case.patient_id,
        site_id=case.site_id,
        values=values,
    )
