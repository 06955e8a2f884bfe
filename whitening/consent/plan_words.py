"""What one patient's plan says in the words of the consent."""

from decimal import Decimal

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from clinic.accounts.dates import birth_words, day_words
from clinic.accounts.languages import name_of, speaking
from whitening.cases.models import Case, Isolation, Plan, PlannedLight
from whitening.consent.models import InterpreterKind, Quote, Talk
from whitening.consent.rules import PlanTerms
from whitening.consent.wording import Element, Wording, fill
from whitening.screening.teeth import tooth


def terms(plan: Plan) -> PlanTerms:
    return PlanTerms(
        product=plan.product.name,
        strength_hp_percent=plan.strength_hp_percent,
        arches=(plan.upper_arch, plan.lower_arch),
        teeth_left_out=tuple(plan.teeth_left_out),
        sessions=plan.sessions,
        cycles_per_session=plan.cycles_per_session,
        minutes_per_cycle=plan.minutes_per_cycle,
        light=plan.light,
        isolation=plan.isolation,
        fee=plan.fee,
        currency=plan.currency,
    )


def values(*, case: Case, plan: Plan, talk: Talk, quote: Quote, language_name: str) -> dict[str, str]:
    """Every name that a wording may use, as finished words in the language that is active."""
    return _people(case, plan, language_name, talk) | _treatment(plan) | money(quote) | _own_words(talk)


def assembled(*, case: Case, plan: Plan, talk: Talk, quote: Quote, wording: Wording) -> tuple[Element, ...]:
    """The words of one version about this patient's plan, in its language."""
    with speaking(wording.language):
        language_name = name_of(wording.language)
        return fill(wording, values(case=case, plan=plan, talk=talk, quote=quote, language_name=language_name))


def _people(case: Case, plan: Plan, language_name: str, talk: Talk) -> dict[str, str]:
    return {
        "patient": case.patient.name,
        "birth": birth_words(case.patient.birth_on),
        "planned_by": plan.planned_by.name,
        "prescribed_by": plan.prescribed_by.name if plan.prescribed_by else _("nobody; not needed here"),
        "site": case.site.name,
        "day": day_words(talk.talked_at, case.site.zone),
        "talked_by": talk.talked_by.name,
        "language": language_name,
    }


def _treatment(plan: Plan) -> dict[str, str]:
    left_out = ", ".join(str(tooth(number).patient_name) for number in plan.teeth_left_out)
    return {
        "strength": number_format(plan.strength_hp_percent.normalize() + Decimal(0)),
        "arches": _arches(plan),
        "left_out": _("Left out: %(teeth)s.") % {"teeth": left_out} if left_out else _("No tooth is left out."),
        "minutes": str(plan.minutes_per_cycle),
        "cycles": str(plan.cycles_per_session),
        "sessions": str(plan.sessions),
        "light": _light(plan),
        "light_short": _("Your plan uses no light.") if plan.light == PlannedLight.NONE else _("Your plan uses one."),
        "isolation": _isolation(plan),
        "curing_light": _curing_light(plan),
        "expectation": plan.expectation,
    }


def _arches(plan: Plan) -> str:
    if plan.upper_arch and plan.lower_arch:
        return _("upper and lower arch")
    return _("upper arch") if plan.upper_arch else _("lower arch")


def _light(plan: Plan) -> str:
    if plan.light == PlannedLight.HAND_HELD:
        return _("A hand-held light is moved from tooth to tooth.")
    if plan.light == PlannedLight.ARCH:
        return _("A light stands in front of the whole arch.")
    return _("No light is used.")


def _isolation(plan: Plan) -> str:
    if plan.isolation == Isolation.RESIN_BARRIER:
        return _("A barrier of resin, hardened with a curing light, covers the gums.")
    return _("The gums are covered without resin.")


def _curing_light(plan: Plan) -> str:
    """Only where a barrier has to be hardened."""
    if plan.isolation == Isolation.RESIN_BARRIER:
        return _("The barrier on the gums is hardened with a blue curing light; everybody wears filter glasses.")
    return _("No curing light is needed for your gums.")


def money(quote: Quote) -> dict[str, str]:
    """Where nothing was written, the usual words."""
    return {
        "fee": f"{number_format(quote.amount, 2)} {quote.currency}",
        "included": quote.included or _("the sessions named above and one review."),
        "not_included": quote.not_included or _("fillings, crowns and further courses."),
        "redo": quote.redo_and_refund or _("ask us; no agreement was made."),
        "valid_until": day_words(quote.valid_until),
    }


def _own_words(talk: Talk) -> dict[str, str]:
    return {
        "questions": talk.questions or _("You had no further questions."),
        "what_matters": talk.what_matters or _("You named nothing in particular."),
        "capacity": _("You understood, weighed it and decided for yourself."),
        "interpreter": _interpreter(talk),
    }


def _interpreter(talk: Talk) -> str:
    if talk.interpreter == InterpreterKind.NONE:
        return _("No interpreter was needed.")
    who = [talk.interpreter_name, talk.interpreter_language, talk.interpreter_service]
    return _("Interpreter: %(who)s (%(how)s).") % {
        "who": ", ".join(part for part in who if part),
        "how": talk.get_interpreter_display(),
    }
