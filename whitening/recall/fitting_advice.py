"""Where the usual advice after a session does not fit somebody, by the codes of the screening's rules. Pure.

The words tell what to do and never why: whoever hands the sheet over need not learn what was answered.
A code that no rule has yet never fires.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from whitening.screening.grades import AnsweredBy
from whitening.screening.outcome import Outcome, State


class Place(StrEnum):
    """Where on the sheet it stands: instead of the usual sentence there, or beside it."""

    PAIN = "pain"
    PASTE = "paste"
    SENSITIVE = "sensitive"
    VARNISH = "varnish"
    GUMS = "gums"
    LIPS = "lips"
    DRY = "dry"
    JAW = "jaw"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    place: Place
    rules: frozenset[str]
    words: StrOrPromise
    source: str


# Of the register, in somebody's own words: what it is about is for a person to say, so the careful words hold.
ON_RECORD = "allergies on record"
PRACTICE = "common practice, no source"
# At the chair: from this score on, of 0 to 10, teeth count as sensitive (S36: moderate begins at about 4).
SENSITIVE_FROM = 4
FITTINGS = (
    Fitting(
        place=Place.PAIN,
        rules=frozenset({"MED-02", ON_RECORD}),
        words=_("Take nothing for the pain before you have spoken with us. We tell you what suits you."),
        source="from memory, unverified",
    ),
    Fitting(
        place=Place.PASTE,
        rules=frozenset({"ALG-05", ON_RECORD}),
        words=_("Use only a paste for sensitive teeth that we have named to you."),
        source="from memory, unverified",
    ),
    Fitting(
        place=Place.SENSITIVE,
        rules=frozenset({"SEN-01", "SEN-02", "DEN-01"}),
        words=_("Begin with the paste for sensitive teeth today, before anything hurts, and use it twice a day."),
        source=PRACTICE,
    ),
    Fitting(
        place=Place.VARNISH,
        rules=frozenset({"ALG-04"}),
        words=_("Let nobody put a varnish on your teeth before they have spoken with us."),
        source="BDJ 2017.291 letter (seen)",
    ),
    Fitting(
        place=Place.GUMS,
        rules=frozenset({"MET-02", "MET-03"}),
        words=_("Look at your gums in a mirror morning and evening for three days. Call us on the day you see a sore."),
        source=PRACTICE,
    ),
    Fitting(
        place=Place.LIPS,
        rules=frozenset({"LGT-05", "LIP-01", "HSV-01"}),
        words=_("Keep your lips covered with a plain balm for some days."),
        source=PRACTICE,
    ),
    Fitting(
        place=Place.DRY,
        rules=frozenset({"DRY-01"}),
        words=_("Sip water often, also at night."),
        source=PRACTICE,
    ),
    Fitting(
        place=Place.JAW,
        rules=frozenset({"TMJ-01", "TMJ-02", "BRX-01"}),
        words=_("Eat soft things today and do not open your mouth wide: your jaw was held open for long."),
        source=PRACTICE,
    ),
)


def codes_of(outcome: Outcome) -> frozenset[str]:
    """What holds for this patient, also where the treatment went on by a decision or another plan.

    What the patient was never asked counts as said: unanswered is never a no.
    """
    said = {finding.rule.code for finding in outcome.findings if finding.state is not State.EXAMINED}
    return frozenset(said | {one.rule.code for one in outcome.unanswered if one.waits_for is AnsweredBy.PATIENT})


def fitting(codes: Collection[str], *, worst_at_chair: int | None = None) -> Mapping[Place, StrOrPromise]:
    """Which words stand where. worst_at_chair: the highest sensitivity that was said in the session."""
    fired = {one.place: one.words for one in FITTINGS if one.rules & set(codes)}
    if worst_at_chair is not None and worst_at_chair >= SENSITIVE_FROM:
        fired |= {one.place: one.words for one in FITTINGS if one.place is Place.SENSITIVE}
    return fired
