"""Steps that this patient's findings ask for at the chair: listed until each is tapped done."""

from dataclasses import dataclass
from datetime import datetime

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from whitening.chairside import registries
from whitening.chairside.models import Session
from whitening.chairside.protocol.codec import to_wire
from whitening.chairside.protocol.payloads import CareTaken
from whitening.chairside.protocol.state import CareState, SessionState
from whitening.screening.loader import Rule
from whitening.screening.outcome import Finding
from whitening.screening.rulebook import rules
from whitening.screening.teeth import tooth


@dataclass(frozen=True, slots=True, kw_only=True)
class CareStep:
    """wire: what a tap on it sends; a number that by itself says nothing of anybody's health."""

    words: str | Promise
    wire: str
    done: CareState | None

    @property
    def label(self) -> str | Promise:
        return self.words


def steps_of(session: Session, state: SessionState, now: datetime) -> tuple[CareStep, ...]:
    """Those of now. A step stays done in the log, whatever becomes of its finding."""
    done = {each.finding: each for each in state.care}
    return tuple(_step(finding, done.get(finding.rule.code)) for finding in registries.care(session, now))


def _step(finding: Finding, done: CareState | None) -> CareStep:
    number = list(rules()).index(finding.rule.code)
    return CareStep(words=_words(finding), wire=to_wire([CareTaken(finding=str(number))]), done=done)


def _words(finding: Finding) -> str | Promise:
    """What to do, and at which teeth; never what was found, its grade or its code."""
    step = finding.rule.at_the_chair or ""
    if not finding.teeth:
        return step
    teeth = " · ".join(str(tooth(number).label) for number in finding.teeth)
    return _("%(what)s (%(teeth)s)") % {"what": step, "teeth": teeth}


def numbered(number: str) -> Rule | None:
    """Only a rule that asks for such a step; nothing else is ever done by a tap."""
    everything = list(rules().values())
    place = int(number) if number.isascii() and number.isdigit() and len(number) < 6 else len(everything)
    rule = everything[place] if place < len(everything) else None
    return rule if rule is not None and rule.at_the_chair is not None else None
