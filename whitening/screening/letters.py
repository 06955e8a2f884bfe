"""What a letter to a doctor or specialist asks, and what is planned: no more than is needed for the answer."""

from decimal import Decimal

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from clinic.documents import kinds, resting
from clinic.documents.models import IncomingPaper
from whitening.cases.models import Case, Isolation, Plan, PlannedLight
from whitening.screening.loader import Rule
from whitening.screening.models import Letter, LetterReply

KIND = "doctor_letter"


def question_words(rule: Rule) -> str:
    """To begin with; the clinician writes on."""
    return _(
        "What we found: %(finding)s. Before we go on we need this in writing: %(event)s. Is that so, from which date, "
        "and is there anything that we should leave out or take care of?"
    ) % {"finding": rule.finding, "event": rule.clears.on_event}


def planned_words(plan: Plan | None) -> str:
    if plan is None:
        return _("Whitening of teeth in the practice with a peroxide gel. Nothing is planned before your answer.")
    sentences = [_gel(plan), _light(plan)]
    if plan.isolation == Isolation.RESIN_BARRIER:
        sentences.append(_("The gums are covered with a methacrylate resin, hardened with blue light."))
    else:
        sentences.append(_("The gums are covered without resin."))
    return " ".join(sentences)


def _gel(plan: Plan) -> str:
    words = ngettext(
        "Whitening of teeth in the practice, %(sessions)d session: a gel with %(strength)s %% hydrogen peroxide as "
        "used lies on the teeth up to %(cycles)d times for %(minutes)d minutes.",
        "Whitening of teeth in the practice, %(sessions)d sessions: in each a gel with %(strength)s %% hydrogen "
        "peroxide as used lies on the teeth up to %(cycles)d times for %(minutes)d minutes.",
        plan.sessions,
    )
    return words % {
        "sessions": plan.sessions,
        "strength": number_format(plan.strength_hp_percent.normalize() + Decimal(0)),
        "cycles": plan.cycles_per_session,
        "minutes": plan.minutes_per_cycle,
    }


def _light(plan: Plan) -> str:
    if plan.light == PlannedLight.NONE:
        return _("No whitening light is used.")
    return _("A blue whitening light is used; everybody wears filter glasses.")


def letters_of(case: Case) -> list[Letter]:
    return list(case.letters.select_related("document", "written_by").prefetch_related("replies__paper__filed_by"))


def may_answer(letter: Letter, paper: IncomingPaper) -> bool:
    """Dated on the day of the letter or later; in both the day of the place."""
    written_on = letter.written_at.astimezone(letter.case.site.zone).date()
    return paper.dated_on is not None and paper.dated_on >= written_on


def rests_on(paper: IncomingPaper) -> bool:
    """A decision was made with it, or it answers a letter."""
    return paper.decisions.exists() or LetterReply.objects.filter(paper=paper).exists()


def register() -> None:
    resting.register(rests_on)
    kinds.register(
        kinds.DocumentKind(
            code=KIND,
            word=gettext_lazy("letter"),
            clinical=True,
            template="documents/doctor_letter.html",
            version=1,
        )
    )
