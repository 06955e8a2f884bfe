"""The gates of a session: what must be settled before it may start. Pure; one named function per gate.

Each gate is open, shut, cleared by decision, "with care" (a step to do) or not needed. What it says is fit
for everybody: a clinical reason never stands here, only what is missing and where to settle it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import day_words
from whitening.consent.rules import CONSENT_VALID_DAYS


class GateState(StrEnum):
    OPEN = "open"
    SHUT = "shut"
    CLEARED = "cleared"
    WITH_CARE = "with_care"
    NOT_NEEDED = "not_needed"


# The shell's marks: shape and word carry the meaning, never colour alone.
MARKS = {
    GateState.OPEN: "ready",
    GateState.SHUT: "missing",
    GateState.CLEARED: "cleared",
    GateState.WITH_CARE: "care",
    GateState.NOT_NEEDED: "not-needed",
}


@dataclass(frozen=True, slots=True)
class GateFacts:
    """Everything the gates look at, for one case on one day, as plain values. Days are local to the site."""

    today: date
    has_answers: bool = False
    answers_in_date: bool = False
    # Another record of this person was joined, and no dentist has signed since that all was read.
    joined_unread: bool = False
    desk_words: tuple[StrOrPromise, ...] = ()
    findings_clear: bool = False
    findings_cleared_by: tuple[str, ...] = ()
    steps_of_care: int = 0
    findings_of_care: int = 0
    not_before: date | None = None
    # The booking that is asked about, and the first day on which it could be.
    booking_id: int | None = None
    # It is only pencilled, and lapses after this day unless somebody confirms it.
    pencilled_until: date | None = None
    # This very session has been opened; or the case is closed, or every planned session is done.
    is_open_at_the_chair: bool = False
    nothing_left: bool = False
    first_on: date | None = None
    asked_again_on: date | None = None
    # Something new was said then, and no clinician has decided about it.
    new_to_decide: bool = False
    identity_confirmed_on: date | None = None
    has_examination: bool = False
    has_plan: bool = False
    law_clear: bool = False
    law_words: tuple[StrOrPromise, ...] = ()
    operator_known: bool = True
    lapsed: tuple[str, ...] = ()
    signed_this_plan: bool = False
    interpreter_missing: bool = False
    countersigned: bool = False
    withdrawn: bool = False
    signed_on: date | None = None
    consent_holds: bool = True
    uses_light: bool = False
    uses_barrier: bool = True
    light_checked: bool = False
    barrier_light_checked: bool = False
    batch_ready: bool = False
    last_session_on: date | None = None
    least_days_between: int = 0
    earliest_next_on: date | None = field(default=None)


@dataclass(frozen=True, slots=True)
class Gate:
    """url_name leads to the page where it is settled: the case's, or the booking's where one is given.

    Empty where that is the chair.
    """

    code: str
    title: StrOrPromise
    state: GateState
    says: tuple[StrOrPromise, ...] = ()
    url_name: str = ""
    on_the_day: bool = False
    booking_id: int | None = None

    @property
    def is_shut(self) -> bool:
        return self.state is GateState.SHUT

    @property
    def mark(self) -> str:
        # A time that is too early or only pencilled is there; it is not yet what it should be.
        return "not-yet" if self.booking_id is not None else MARKS[self.state]


def identity(facts: GateFacts) -> Gate:
    """Name and date of birth, asked on the day. Two identifiers: common practice, no source."""
    done = facts.identity_confirmed_on == facts.today
    return Gate(
        "identity",
        _("Who it is"),
        GateState.OPEN if done else GateState.SHUT,
        () if done else (_("Ask for name and date of birth on the day"),),
        on_the_day=True,
    )


def booked_time(facts: GateFacts) -> Gate:
    """The booked day is one on which it may be: waiting times (each rule's own source), deferral, cooling-off, age."""
    title = _("Booked time")
    if facts.booking_id is None:
        return Gate("booked_time", title, GateState.NOT_NEEDED, (_("None is booked"),))
    if facts.first_on is None or facts.first_on <= facts.today:
        return _kept(title, facts)
    return _move_it("booked_time", title, facts, facts.first_on)


def _kept(title: StrOrPromise, facts: GateFacts) -> Gate:
    """Early enough; whether it holds is the desk's step, which the case page offers once all is agreed."""
    if facts.pencilled_until is None:
        return Gate("booked_time", title, GateState.OPEN)
    words = str(_("Pencilled until %(day)s: confirm it before then")) % {"day": _shown(facts.pencilled_until)}
    return Gate("booked_time", title, GateState.WITH_CARE, (words,), booking_id=facts.booking_id)


def _move_it(code: str, title: StrOrPromise, facts: GateFacts, first_on: date) -> Gate:
    """Only the two days: why it has to wait is not for everybody."""
    days = {"day": _shown(first_on), "booked": _shown(facts.today)}
    words = str(_("Not before %(day)s; booked for %(booked)s: move it")) % days
    return Gate(code, title, GateState.SHUT, (words,), "booking_move", booking_id=facts.booking_id)


def of_review(*, booked_on: date, first_on: date, booking_id: int) -> Gate:
    """A review has one gate: day 28 after the last session, which may have moved since (recall.timing, its source)."""
    return _move_it("booked_time", _("Booked time"), GateFacts(today=booked_on, booking_id=booking_id), first_on)


def _shown(day: date) -> str:
    return day_words(day)


def questions(facts: GateFacts) -> Gate:
    """Answered, decided, in date. Sources: screening rules, one each; 30 days of validity from memory.

    What an earlier course under a joined record brought up is read first: design rule, no source.
    """
    title, url = _("Health questions"), "assessment"
    if facts.joined_unread:
        return Gate("questions", title, GateState.SHUT, (_("Dentist to read the joined record"),), url)
    if not facts.has_answers:
        return Gate("questions", title, GateState.SHUT, (_("Answers missing"),), url)
    if facts.desk_words or not facts.findings_clear:
        return Gate("questions", title, GateState.SHUT, facts.desk_words or (_("Dentist to decide"),), url)
    if not facts.answers_in_date:
        return Gate("questions", title, GateState.SHUT, (_("Answers are older than 30 days: ask again"),), url)
    steps = _steps_of_care(facts.steps_of_care)
    if facts.findings_cleared_by:
        return Gate("questions", title, GateState.CLEARED, (*facts.findings_cleared_by, *steps), url)
    if steps or facts.findings_of_care:
        says = steps or (_("Something to take care of: read the findings"),)
        return Gate("questions", title, GateState.WITH_CARE, says, url)
    return Gate("questions", title, GateState.OPEN, (), url)


def _steps_of_care(count: int) -> tuple[StrOrPromise, ...]:
    """How many, not which: the chair lists them, and this is read at the desk."""
    words = ngettext("%(count)d step to do at the chair", "%(count)d steps to do at the chair", count)
    return (words % {"count": count},) if count else ()


def asked_again(facts: GateFacts) -> Gate:
    """The day's re-ask. Source: CON-03, design rule from memory. Asking once more decides nothing."""
    title = _("Asked again today")
    if facts.new_to_decide:
        return Gate("asked_again", title, GateState.SHUT, (_("Dentist to decide"),), "assessment")
    done = facts.asked_again_on == facts.today
    says = () if done else (_("Go through the list with the patient on the day"),)
    return Gate("asked_again", title, GateState.OPEN if done else GateState.SHUT, says, "reask", True)


def examination(facts: GateFacts) -> Gate:
    """An examination in this course. Source: Directive 2011/84/EU (secondary texts); elsewhere by policy."""
    if facts.has_examination:
        return Gate("examination", _("Examination"), GateState.OPEN, (), "examination")
    return Gate("examination", _("Examination"), GateState.SHUT, (_("Not examined yet"),), "examination")


def plan(facts: GateFacts) -> Gate:
    """A plan that local rules allow, prescribed and carried out by people who may. Source: jurisdictions.csv.

    Who may treat is never cleared by anybody (invariant 7), so a registration that has run out shuts it.
    """
    sentence = str(_("Registration or indemnity of %(name)s has run out"))
    says = (*_why_no_plan(facts), *(sentence % {"name": name} for name in facts.lapsed))
    return Gate("plan", _("Plan"), GateState.SHUT if says else GateState.OPEN, says, "plan")


def _why_no_plan(facts: GateFacts) -> tuple[StrOrPromise, ...]:
    if not facts.has_plan:
        return (_("No plan yet"),)
    return () if facts.law_clear else facts.law_words or (_why_law(facts),)


def _why_law(facts: GateFacts) -> StrOrPromise:
    if not facts.operator_known:
        return _("No clinician is booked yet who carries it out")
    return _("Local rules are not met")


def consent(facts: GateFacts) -> Gate:
    """Signed for this plan, countersigned, not withdrawn, not too old. Never cleared by anybody. Source: CON-01.

    Where somebody interpreted, the interpreter has signed as well.
    How long a signature holds is common practice, no source.
    """
    title, url = _("Consent"), "consent"
    if facts.withdrawn:
        return Gate("consent", title, GateState.SHUT, (_("Consent was withdrawn"),), url)
    if not facts.signed_this_plan:
        return Gate("consent", title, GateState.SHUT, (_("Not signed for this plan"),), url)
    if not facts.consent_holds and facts.signed_on is not None:
        words = str(_("Signed on %(day)s, older than %(days)d days: sign again"))
        says = words % {"day": _shown(facts.signed_on), "days": CONSENT_VALID_DAYS}
        return Gate("consent", title, GateState.SHUT, (says,), url)
    if facts.interpreter_missing:
        return Gate("consent", title, GateState.SHUT, (_("The interpreter has not signed"),), url)
    if not facts.countersigned:
        return Gate("consent", title, GateState.SHUT, (_("Not countersigned"),), url)
    return Gate("consent", title, GateState.OPEN, (), url)


def light(facts: GateFacts) -> Gate:
    """Whitening light and the barrier's curing light have a passed check. Thirty days: common practice, no source."""
    title = _("Lights")
    if not facts.uses_light and not facts.uses_barrier:
        return Gate("light", title, GateState.NOT_NEEDED)
    missing: list[StrOrPromise] = []
    if facts.uses_light and not facts.light_checked:
        missing.append(_("Whitening light: check is due"))
    if facts.uses_barrier and not facts.barrier_light_checked:
        missing.append(_("Curing light for the barrier: check is due"))
    return Gate("light", title, GateState.SHUT if missing else GateState.OPEN, tuple(missing), "materials")


def batch(facts: GateFacts) -> Gate:
    """A batch of the planned gel in date and not on hold. Never cleared by anybody (invariant 7)."""
    if not facts.has_plan:
        # Which gel, the plan says; until then the plan's own gate is shut.
        return Gate("batch", _("Gel"), GateState.NOT_NEEDED)
    if facts.batch_ready:
        return Gate("batch", _("Gel"), GateState.OPEN)
    return Gate("batch", _("Gel"), GateState.SHUT, (_("No batch of the planned gel is in date and free"),), "materials")


def interval(facts: GateFacts) -> Gate:
    """Least days since the last session, as planned. Two or seven days gave the same colour: S23 (seen)."""
    title = _("Time since the last session")
    if facts.last_session_on is None:
        return Gate("interval", title, GateState.NOT_NEEDED)
    days = (facts.today - facts.last_session_on).days
    if days >= facts.least_days_between:
        return Gate("interval", title, GateState.OPEN)
    first_on = facts.earliest_next_on or facts.today
    if facts.booking_id is not None:
        return _move_it("interval", title, facts, first_on)
    return Gate("interval", title, GateState.SHUT, (str(_("Not before %(day)s")) % {"day": _shown(first_on)},))


GATES = (identity, booked_time, questions, examination, plan, consent, light, batch, interval, asked_again)


def evaluate(facts: GateFacts) -> list[Gate]:
    """Every gate, in the order in which people settle them."""
    return [gate(facts) for gate in GATES]


def shut(gates: Sequence[Gate], *, beforehand: bool = False) -> list[Gate]:
    """Gates that are still shut; beforehand leaves out those that can only be settled on the day."""
    return [gate for gate in gates if gate.is_shut and not (beforehand and gate.on_the_day)]
