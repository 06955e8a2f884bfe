"""Signing. The exact words are frozen first; what was signed is hashed and drawn once."""

from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.documents import actions as documents
from clinic.documents.models import IssuedDocument
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.actions import hold_open
from whitening.cases.models import Case, Plan
from whitening.consent import versions, wording
from whitening.consent.actions.noting import note
from whitening.consent.actions.photographs import choose_photographs
from whitening.consent.models import ConsentText, PhotoUse, Signature, SignedBy, Talk
from whitening.consent.names import is_same_name
from whitening.consent.plan_words import assembled
from whitening.consent.reading import interpreter_of, quote_for, signing_facts, talk_about
from whitening.consent.rules import WORDS_NOT_READY, Strokes, is_drawn, svg_paths, why_not_signed, why_not_yet
from whitening.consent.sealing import seal
from whitening.consent.seals import newest_answers_at, sealed

CONSENT = "consent"


class CannotSign(Refusal):
    code = "consent.cannot_sign"
    sentence = _("%(why)s")


class NameDiffers(Refusal):
    code = "consent.name_differs"
    sentence = _(
        "The practice knows you as %(name)s. Is the name that you wrote your own? Then press “Sign” once more; the "
        "practice sees both names. If not, write yours."
    )


@dataclass(frozen=True, slots=True)
class SignatureInput:
    """What the patient did on the screen. seen_sha256 is the hash of the words that were shown.

    is_own_name: asked once because it is not the record's, they said that it is theirs.
    """

    name: str
    declared: bool
    seen_sha256: str
    device: str
    strokes: Strokes = field(default_factory=list)
    typed: bool = False
    photographs: dict[PhotoUse, bool] = field(default_factory=dict)
    # How large the letters of the paper are; the words and what is sealed are the same.
    large_print: bool = False
    is_own_name: bool = False

    @property
    def drawn(self) -> Strokes:
        """Whoever says that the typed name is the signature has signed by typing, whatever the box holds."""
        return [] if self.typed else self.strokes


@dataclass(frozen=True, slots=True)
class Ready:
    """Everything that is signed about, as it stood when the page was sent."""

    plan: Plan
    talk: Talk
    text: ConsentText


def frozen_text(
    *, case: Case, plan: Plan, talk: Talk, now: datetime, words: wording.Wording | None = None
) -> ConsentText:
    """The words for this plan, unsaved unless they were frozen before for the same talk.

    words: those on a form that was printed; without, those in use now.
    """
    words_in_use = words or versions.in_use(talk.language)
    quote = quote_for(plan)
    if words_in_use is None:
        raise CannotSign(why=WORDS_NOT_READY)
    if quote is None:
        raise CannotSign(why=_("There is no quote for this plan yet. The dentist records the talk first."))
    body = wording.body(assembled(case=case, plan=plan, talk=talk, quote=quote, wording=words_in_use))
    digest = wording.sha256(body)
    found = ConsentText.objects.filter(talk=talk, sha256=digest).first()
    return found or ConsentText(
        case=case,
        plan=plan,
        talk=talk,
        wording=words_in_use.version,
        language=words_in_use.language,
        body=body,
        sha256=digest,
        frozen_at=now,
    )


def why_not_now(*, case: Case, now: datetime) -> StrOrPromise | None:
    """For the page: what stands in the way before the patient fills in anything."""
    plan = plan_in_force(case)
    talk = talk_about(plan) if plan else None
    return why_not_yet(signing_facts(case=case, plan=plan, talk=talk, now=now))


def sign(*, case: Case, given: SignatureInput, actor: Actor, now: datetime) -> Signature:
    """Raises CannotSign with what is missing, NameDiffers, or CaseClosed.

    The PDF is drawn before the transaction, since that takes seconds; within it, with the case locked, everything
    is asked once more, so that two devices cannot sign twice and nobody signs what has just been changed.
    """
    ready = _ready(case, given, now)
    prepared = documents.prepare(
        kind=CONSENT,
        patient=case.patient,
        site=case.site,
        context=_sheet(case, ready.text, given, now),
        language=ready.text.language,
        title=_("Consent"),
        now=now,
        large_print=given.large_print,
    )
    with transaction.atomic():
        again = _ready(hold_open(case), given, now)
        if again.text.pk is None:
            again.text.save()
        document = documents.file_away(prepared, subject=("case", case.pk), actor=actor)
        signature = _keep(case, again, given, document, now)
        choose_photographs(case=case, choices=given.photographs, actor=actor, now=now)
        values = {"text_sha256": again.text.sha256, "sha256": signature.sha256, "answers": signature.answers_id}
        if not is_same_name(given.name, case.patient.name):
            values["another_name"] = given.name
        note("consent.signed", case, actor, values)
    return signature


def _ready(case: Case, given: SignatureInput, now: datetime) -> Ready:
    """Raises CannotSign, or NameDiffers once nothing else is missing."""
    plan = plan_in_force(case)
    talk = talk_about(plan) if plan else None
    why = why_not_yet(signing_facts(case=case, plan=plan, talk=talk, now=now)) or why_not_signed(
        name=given.name, declared=given.declared, drawn=is_drawn(given.drawn), typed=given.typed
    )
    if why is not None or plan is None or talk is None:
        raise CannotSign(why=why)
    if set(given.photographs) != set(PhotoUse):
        raise CannotSign(why=_("Say yes or no for each use of photographs. Both are fine."))
    text = frozen_text(case=case, plan=plan, talk=talk, now=now)
    if text.sha256 != given.seen_sha256:
        raise CannotSign(why=_("The text has changed since this page was opened. Read it again, then sign."))
    if not given.is_own_name and not is_same_name(given.name, case.patient.name):
        raise NameDiffers(name=case.patient.name)
    return Ready(plan, talk, text)


def _keep(case: Case, ready: Ready, given: SignatureInput, document: IssuedDocument, now: datetime) -> Signature:
    signature = Signature(
        text=ready.text,
        case=case,
        plan=ready.plan,
        method=SignedBy.TYPED if given.typed else SignedBy.STROKES,
        signer_name=given.name,
        strokes=given.drawn,
        photographs={str(use): allowed for use, allowed in given.photographs.items()},
        device=given.device,
        zone=case.site.timezone,
        signed_at=now,
        answers=newest_answers_at(case, now),
        document=document,
    )
    signature.sha256 = seal(sealed(signature))
    signature.save(force_insert=True)
    return signature


def _sheet(case: Case, text: ConsentText, given: SignatureInput, now: datetime) -> dict[str, object]:
    interpreter = interpreter_of(text)
    return {
        "interpreter": interpreter,
        "interpreter_paths": svg_paths(interpreter.strokes) if interpreter else [],
        "elements": wording.elements_of(text.body),
        "text": text,
        "signer": given.name,
        "typed": given.typed,
        "paths": svg_paths(given.drawn),
        "photographs": [(PhotoUse(use).label, allowed) for use, allowed in given.photographs.items()],
        "signed_at": now.astimezone(case.site.zone),
        "zone": case.site.timezone,
    }
