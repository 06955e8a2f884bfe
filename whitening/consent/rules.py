"""Pure rules of consent: when it may be signed, and whether it still holds for the plan."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise


@dataclass(frozen=True, slots=True)
class SigningFacts:
    """What is known when somebody wants to sign. cooling_off_days comes from the jurisdiction."""

    now: datetime
    plan_in_force: bool
    talked_at: datetime | None
    can_decide: bool
    cooling_off_days: int
    already_signed: bool
    name: str
    declared: bool
    has_strokes: bool
    typed: bool


def why_not_sign(facts: SigningFacts) -> StrOrPromise | None:
    """The first thing that is missing, as a sentence that says what to do; None when it may be signed."""
    if not facts.plan_in_force:
        return _("The plan has changed since this page was opened. Read the new text, then sign.")
    if facts.already_signed:
        return _("This is signed already. You need not do it again.")
    if facts.talked_at is None:
        return _("The dentist talks it through with you first. Then you can sign.")
    if not facts.can_decide:
        return _("The dentist has noted that this cannot be signed now. Please ask.")
    if facts.now < facts.talked_at + timedelta(days=facts.cooling_off_days):
        return _("Local rules ask for some days between the talk and the signature. Please come back then.")
    if not facts.name.strip():
        return _("Write your full name.")
    if not facts.declared:
        return _("Tick the sentence above your signature if it is true for you.")
    if not facts.has_strokes and not facts.typed:
        return _("Sign in the box, or choose to sign by typing your name.")
    return None


Strokes = list[list[list[int]]]
BOX = (1000, 300)
STROKES_MOST, POINTS_MOST = 200, 6000


def check_strokes(raw: object) -> Strokes:
    """Vector strokes [[[x, y, ms], …], …] inside the box, in order of time. Raises ValueError for anything else."""
    if not isinstance(raw, list) or len(raw) > STROKES_MOST:
        raise ValueError("no list of strokes")
    points = [point for stroke in raw if isinstance(stroke, list) for point in stroke]
    if len(points) > POINTS_MOST or not all(_is_point(point) for point in points):
        raise ValueError("no points")
    times = [point[2] for point in points]
    if times != sorted(times):
        raise ValueError("time runs backwards")
    return [stroke for stroke in raw if isinstance(stroke, list) and stroke]


def _is_point(point: object) -> bool:
    return (
        isinstance(point, list)
        and len(point) == 3
        and all(isinstance(one, int) and not isinstance(one, bool) for one in point)
        and 0 <= point[0] <= BOX[0]
        and 0 <= point[1] <= BOX[1]
        and 0 <= point[2] <= 600_000
    )


@dataclass(frozen=True, slots=True)
class PlanTerms:
    """What a signature is about: a change of any of these needs a new one."""

    strength_hp_percent: str
    arches: tuple[bool, bool]
    teeth_left_out: tuple[str, ...]
    sessions: int
    cycles_per_session: int
    light: str
    isolation: str


def what_changed(*, signed: PlanTerms, now: PlanTerms) -> Sequence[StrOrPromise]:
    """Names what differs from what was signed; fewer cycles or sessions than agreed need no new signature."""
    changed: list[StrOrPromise] = []
    if signed.strength_hp_percent != now.strength_hp_percent:
        changed.append(_("the strength of the gel"))
    if signed.arches != now.arches:
        changed.append(_("the arches"))
    if signed.teeth_left_out != now.teeth_left_out:
        changed.append(_("the teeth left out"))
    if now.sessions > signed.sessions or now.cycles_per_session > signed.cycles_per_session:
        changed.append(_("more cycles or sessions than agreed"))
    if signed.light != now.light:
        changed.append(_("the light"))
    if signed.isolation != now.isolation:
        changed.append(_("the protection of the gums"))
    return changed
