"""Pure rules of consent: when it may be signed, and whether it still holds for the plan."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise


@dataclass(frozen=True, slots=True, kw_only=True)
class SigningFacts:
    """What is known before anybody signs. cooling_off_days comes from the jurisdiction; days are the site's."""

    today: date
    case_open: bool
    plan_in_force: bool
    talked_at: datetime | None
    talked_on: date | None
    can_decide: bool
    cooling_off_days: int
    quote_holds_until: date | None
    already_signed: bool
    withdrawn_at: datetime | None
    # Words are in use in the language of the talk, and somebody is recorded who checked that translation.
    words_ready: bool
    # first_day(…) in the words of the reader's language.
    first_day: str = ""


# A signature records a talk that is still remembered, about a mouth that was looked at. Common practice, no source.
CONSENT_VALID_DAYS = 90


WORDS_NOT_READY = _(
    "The words in this language have not been checked yet, so they cannot be signed. Please call us, or ask."
)


def holds_until(signed_on: date) -> date:
    """The last day on which something may be done under a signature."""
    return signed_on + timedelta(days=CONSENT_VALID_DAYS)


def first_day(*, talked_on: date, cooling_off_days: int) -> date:
    return talked_on + timedelta(days=cooling_off_days)


def why_not_yet(facts: SigningFacts) -> StrOrPromise | None:
    """The first thing that stands in the way, as a sentence that says what to do; None when it may be signed."""
    if not facts.case_open:
        return _("This case is closed. Nothing is signed any more. Please call us if you are unsure.")
    if facts.already_signed:
        return _("This is signed already. You need not do it again.")
    if not facts.plan_in_force or facts.talked_at is None or facts.talked_on is None:
        return _("First the dentist looks, plans and talks it through with you. Then you can read and sign here.")
    # A withdrawal is taken seriously: the next signature needs a talk of its own.
    if facts.withdrawn_at is not None and facts.talked_at <= facts.withdrawn_at:
        return _("You withdrew your consent. If you want it after all, the dentist talks it through with you again.")
    if not facts.can_decide:
        return _("The dentist has noted that this cannot be signed now. Please ask.")
    if not facts.words_ready:
        return WORDS_NOT_READY
    if facts.today < first_day(talked_on=facts.talked_on, cooling_off_days=facts.cooling_off_days):
        return _("Local rules ask for some days between the talk and the signature. You can sign from %(day)s on.") % {
            "day": facts.first_day
        }
    if facts.quote_holds_until is None or facts.quote_holds_until < facts.today:
        return _("The quote no longer holds. Please call us: the dentist talks it through again, with a new quote.")
    return None


def why_not_signed(*, name: str, declared: bool, drawn: bool, typed: bool) -> StrOrPromise | None:
    """What is missing in what the patient filled in."""
    if not name.strip():
        return _("Write your full name.")
    if not declared:
        return _("Tick the sentence above your signature if it is true for you.")
    if not drawn and not typed:
        return _("Sign in the box, or choose to sign by typing your name.")
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperFacts:
    """What is known when somebody reads a signed paper. Days are the site's; printed_* are None for a blank form."""

    today: date
    signed_on: date
    talked_on: date
    talked_at: datetime
    printed_on: date | None
    printed_at: datetime | None
    # Of the newest consent, if it was withdrawn.
    withdrawn_on: date | None = None
    withdrawn_at: datetime | None = None
    # A blank form does not say after which talk of a day it was signed.
    talks_that_day: int = 1


def why_not_on_paper(facts: PaperFacts) -> StrOrPromise | None:
    """Whether the day on a signed paper, and the form that was signed, can be right."""
    if facts.signed_on > facts.today:
        return _("The day beside the signature lies ahead. Look at the paper again.")
    if facts.signed_on < facts.talked_on:
        return _("It was signed before the talk that is recorded. A signature counts only after the talk.")
    if facts.printed_at is None or facts.printed_on is None:
        return _why_not_blank(facts)
    if facts.withdrawn_at is not None and facts.printed_at < facts.withdrawn_at:
        return _("Consent was withdrawn after this form was printed. Print it anew, and let that one be signed.")
    if facts.printed_at < facts.talked_at:
        return _("It was talked through again after this form was printed. Print it anew, and let that one be signed.")
    if facts.signed_on < facts.printed_on:
        return _("The form was printed after the day beside the signature. Look at the paper again.")
    return None


def _why_not_blank(facts: PaperFacts) -> StrOrPromise | None:
    if facts.withdrawn_on is not None and facts.signed_on <= facts.withdrawn_on:
        return _(
            "Consent was withdrawn on that day or later. Print the form for this plan, and let that one be signed."
        )
    if facts.signed_on == facts.talked_on and facts.talks_that_day > 1:
        return _("On that day there was more than one talk. Print the form for this plan, and let that one be signed.")
    return None


Strokes = list[list[list[int]]]
BOX = (1000, 300)
STROKES_MOST, POINTS_MOST = 200, 6000
# An hour: somebody may put the pen down, and ask.
MILLISECONDS_MOST = 3_600_000
# A slip of the finger is no signature; a cross is one. In units of the box.
REACH_LEAST = 30


def check_strokes(raw: object) -> Strokes:
    """Vector strokes [[[x, y, ms], …], …] inside the box, in order of time. Raises ValueError for anything else."""
    if not isinstance(raw, list) or len(raw) > STROKES_MOST:
        raise ValueError("no list of strokes")
    if not all(isinstance(stroke, list) for stroke in raw):
        raise ValueError("no strokes")
    points = [point for stroke in raw for point in stroke]
    if len(points) > POINTS_MOST or not all(_is_point(point) for point in points):
        raise ValueError("no points")
    times = [point[2] for point in points]
    if times != sorted(times):
        raise ValueError("time runs backwards")
    return [stroke for stroke in raw if stroke]


def is_drawn(strokes: Strokes) -> bool:
    """Large enough to be meant: it reaches over a part of the box, across or down."""
    points = [point for stroke in strokes for point in stroke]
    if not points:
        return False
    across, down = ([point[axis] for point in points] for axis in (0, 1))
    return max(max(across) - min(across), max(down) - min(down)) >= REACH_LEAST


def svg_paths(strokes: Strokes) -> list[str]:
    """A dot is drawn as a line to itself: with round ends it shows."""
    drawn = [stroke if len(stroke) > 1 else stroke * 2 for stroke in strokes]
    return ["M " + " L ".join(f"{x} {y}" for x, y, _ms in points) for points in drawn]


def _is_point(point: object) -> bool:
    return (
        isinstance(point, list)
        and len(point) == 3
        and all(isinstance(one, int) and not isinstance(one, bool) for one in point)
        and 0 <= point[0] <= BOX[0]
        and 0 <= point[1] <= BOX[1]
        and 0 <= point[2] <= MILLISECONDS_MOST
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTerms:
    """What a signature is about: a change of any of these needs a new one."""

    product: str
    strength_hp_percent: Decimal
    arches: tuple[bool, bool]
    teeth_left_out: tuple[str, ...]
    sessions: int
    cycles_per_session: int
    minutes_per_cycle: int
    light: str
    isolation: str
    fee: Decimal
    currency: str


def what_changed(*, signed: PlanTerms, now: PlanTerms) -> Sequence[StrOrPromise]:
    """Names what differs from what was signed. Less than was agreed to, or for less money, needs no new signature."""
    changes: list[tuple[bool, StrOrPromise]] = [
        (signed.product != now.product, _("the gel")),
        (signed.strength_hp_percent != now.strength_hp_percent, _("the strength of the gel")),
        (signed.arches != now.arches, _("the arches")),
        (signed.teeth_left_out != now.teeth_left_out, _("the teeth left out")),
        (
            now.sessions > signed.sessions or now.cycles_per_session > signed.cycles_per_session,
            _("more cycles or sessions than agreed"),
        ),
        (now.minutes_per_cycle > signed.minutes_per_cycle, _("a longer time on the teeth")),
        (signed.light != now.light, _("the light")),
        (signed.isolation != now.isolation, _("the protection of the gums")),
        (signed.currency != now.currency or now.fee > signed.fee, _("a higher fee")),
    ]
    return [words for differs, words in changes if differs]


def done_alike(one: PlanTerms, other: PlanTerms) -> bool:
    """The same is done to the same teeth, for as long. How often, and for how much money, is not looked at."""
    return _done(one) == _done(other)


def _done(terms: PlanTerms) -> tuple[object, ...]:
    return (
        terms.product,
        terms.strength_hp_percent,
        terms.arches,
        frozenset(terms.teeth_left_out),
        terms.minutes_per_cycle,
        terms.light,
        terms.isolation,
    )
