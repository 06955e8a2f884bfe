"""Recording the talk and the quote: who talked it through, when, with whose help, and for how much."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.languages import name_of
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.actions import hold_open, into_the_chair
from whitening.cases.models import Case, Plan
from whitening.consent import versions
from whitening.consent.models import InterpreterKind, Quote, Talk
from whitening.consent.names import is_same_name
from whitening.consent.reading import quote_for

QUOTE_VALID_DAYS = 90  # common practice, no source


class NoPlan(Refusal):
    code = "consent.no_plan"
    sentence = _("There is no plan to talk about yet. Make the plan first.")


class ChildInterpreter(Refusal):
    code = "consent.child_interpreter"
    sentence = _("A child cannot interpret this. Ask for a grown-up interpreter, in the room or by telephone.")


class InterpretsForThemselves(Refusal):
    code = "consent.interprets_for_themselves"
    sentence = _("This is the patient's own name. Write the name of whoever interpreted.")


class InterpreterWanted(Refusal):
    code = "consent.interpreter_wanted"
    sentence = _(
        "This patient wants an interpreter. Record who interpreted; if the wish no longer holds, change it in the "
        "register first."
    )


class LanguageNotReady(Refusal):
    code = "consent.language_not_ready"
    sentence = _(
        "The consent cannot be signed in %(language)s yet: nobody has recorded who checked the translation in use. It "
        "is recorded under Set-up, words of the consent. Until then choose another language, and record who "
        "interpreted."
    )


@dataclass(frozen=True, slots=True)
class TalkDetails:
    """language: in which the patient reads and signs; empty for their own where it is ready, else the program's."""

    can_decide: bool
    language: str = ""
    what_matters: str = ""
    questions: str = ""
    interpreter: InterpreterKind = InterpreterKind.NONE
    interpreter_name: str = ""
    interpreter_language: str = ""
    interpreter_service: str = ""
    interpreter_is_child: bool = False
    included: str = ""
    not_included: str = ""
    redo_and_refund: str = ""


def record_talk(*, case: Case, details: TalkDetails, user: User, actor: Actor, now: datetime) -> Talk:
    """The talk about the plan in force, with its quote.

    Raises NoPlan, ChildInterpreter, InterpretsForThemselves, InterpreterWanted, LanguageNotReady, CoverRunOut.
    """
    require(user, Capability.CONSENT_RECORD, case.site)
    require_in_date(user, now.astimezone(case.site.zone).date())
    if details.interpreter != InterpreterKind.NONE and details.interpreter_is_child:
        raise ChildInterpreter
    if details.interpreter != InterpreterKind.NONE and is_same_name(details.interpreter_name, case.patient.name):
        raise InterpretsForThemselves
    with transaction.atomic():
        held = hold_open(case)
        if held.patient.needs_interpreter and details.interpreter == InterpreterKind.NONE:
            raise InterpreterWanted
        plan = plan_in_force(held)
        if plan is None:
            raise NoPlan
        language = _language(held, details)
        _quote(case, plan, details, user, now)
        talk = Talk.objects.create(
            case=case,
            plan=plan,
            what_matters=details.what_matters,
            questions=details.questions,
            can_decide=details.can_decide,
            language=language,
            interpreter=details.interpreter,
            interpreter_name=details.interpreter_name,
            interpreter_language=details.interpreter_language,
            interpreter_service=details.interpreter_service,
            talked_at=now,
            talked_by=user,
        )
        record(
            verb="consent.talked",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values={
                "plan": plan.version,
                "can_decide": details.can_decide,
                "language": language,
                "interpreter": str(details.interpreter),
            },
        )
        into_the_chair(case=case, actor=actor, now=now)
    return talk


def _language(case: Case, details: TalkDetails) -> str:
    """Raises LanguageNotReady for one that nobody may sign in."""
    language = details.language or versions.signable(case.patient.language)
    if not versions.may_be_signed_in(language):
        raise LanguageNotReady(language=name_of(language))
    return language


def _quote(case: Case, plan: Plan, details: TalkDetails, user: User, now: datetime) -> Quote:
    """Talking again about the same plan keeps the quote that was given, as long as it holds."""
    today = now.astimezone(case.site.zone).date()
    held = quote_for(plan)
    if held is not None and held.valid_until >= today:
        return held
    return Quote.objects.create(
        case=case,
        plan=plan,
        amount=plan.fee,
        currency=plan.currency,
        included=details.included,
        not_included=details.not_included,
        redo_and_refund=details.redo_and_refund,
        valid_until=today + timedelta(days=QUOTE_VALID_DAYS),
        quoted_at=now,
        quoted_by=user,
    )
