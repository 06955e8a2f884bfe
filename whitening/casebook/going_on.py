"""While a session runs: what has come to stand against it since it was opened with all gates open."""

from collections.abc import Sequence
from datetime import date, datetime

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from whitening.casebook import gates, reading
from whitening.casebook.facts import of_consent
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, Plan
from whitening.chairside.models import Session
from whitening.consent.plan_words import terms
from whitening.consent.reading import Standing, standing
from whitening.consent.rules import done_alike
from whitening.screening.audience import DESK_WORDS, DeskMark, desk_lines
from whitening.screening.grades import Family, Profession
from whitening.screening.outcome import Finding, Outcome
from whitening.screening.reading import newest_reask, outcome_of, waiting_in
from whitening.screening.reask import GO_AHEAD


def against_going_on(session: Session, now: datetime) -> Sequence[StrOrPromise]:
    """Consent first; then what was said at the day's re-ask, and what is known of the patient.

    Never a reason of health: whoever comes by may read the screen that shows it.
    """
    case = reading.for_outcome(session.case_id)
    plan, day = plan_in_force(case), now.astimezone(case.site.zone).date()
    held = standing(case, plan=plan)
    if not held.agreed:
        return _consent_words(held, day)
    if not _same_at_the_chair(case, session, plan):
        return (_("The plan has changed since: this session ends here, the next one follows the new plan"),)
    outcome = outcome_of(case, today=day, consent=held.facts(), carried_out_by=_treats(session), plan=plan)
    return (*_said_again(case), *_known(outcome))


def care_at_the_chair(session: Session, now: datetime) -> Sequence[Finding]:
    """What is to be done for this patient beside the steps of everybody, whatever else stands against going on."""
    case = reading.for_outcome(session.case_id)
    plan, day = plan_in_force(case), now.astimezone(case.site.zone).date()
    outcome = outcome_of(
        case, today=day, consent=standing(case, plan=plan).facts(), carried_out_by=_treats(session), plan=plan
    )
    return outcome.without(Family.LAW, Family.CONSENT).to_do


def _consent_words(held: Standing, day: date) -> Sequence[StrOrPromise]:
    """As the gate of the case says it. How old a signature is was settled when the session was opened."""
    facts = gates.GateFacts(today=day, **of_consent(held, day) | {"consent_holds": True})
    return gates.consent(facts).says


def _same_at_the_chair(case: Case, session: Session, plan: Plan | None) -> bool:
    """A session is carried out as it was opened; of a plan that was changed and agreed since, it can only take over
    the number of cycles."""
    opened_with = next((one for one in case.plans.all() if one.pk == session.plan_id), None)
    return plan is None or opened_with is None or done_alike(terms(opened_with), terms(plan))


def _said_again(case: Case) -> Sequence[StrOrPromise]:
    row = newest_reask(case)
    waiting = {item.id for item in waiting_in(row)} if row else set()
    if GO_AHEAD in waiting:
        return (_("The patient does not want to go ahead"),)
    return (_("Something new was said today: a clinician decides"),) if waiting else ()


def _known(outcome: Outcome) -> Sequence[StrOrPromise]:
    if outcome.clear:
        return ()
    lines = tuple(str(line) for line in desk_lines(outcome.without(Family.LAW)))
    return lines or (DESK_WORDS[DeskMark.DENTIST_TO_DECIDE],)


def _treats(session: Session) -> Profession:
    """Whoever opened it, or, when that was an assistant, the clinician who is booked for it."""
    opener = session.opened_by
    if opener.may_carry_out or opener.may_examine_and_decide or session.booking is None:
        return Profession(opener.profession)
    booked = reading.clinicians([session.booking]).get(session.booking.pk)
    return booked.profession if booked else Profession(opener.profession)
