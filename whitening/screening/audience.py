"""Who is told what. The desk learns one of four things and never why; the patient sees no grade at all."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from whitening.screening.decisions import DecisionKind
from whitening.screening.grades import AnsweredBy, Grade
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.outcome import Finding, Outcome
from whitening.screening.verdicts import strength_allowed
from whitening.screening.words import Words

TOO_STRONG = "LAW-01"


class DeskMark(StrEnum):
    ANSWERS_MISSING = "answers_missing"
    DENTIST_TO_DECIDE = "dentist_to_decide"
    NOT_BEFORE = "not_before"
    NOT_GOING_AHEAD = "not_going_ahead"


DESK_WORDS: dict[DeskMark, Words] = {
    DeskMark.ANSWERS_MISSING: _("Answers missing"),
    DeskMark.DENTIST_TO_DECIDE: _("Dentist to decide"),
    DeskMark.NOT_GOING_AHEAD: _("Not going ahead"),
}


@dataclass(frozen=True, slots=True)
class DeskLine:
    """`not_before` is given for that mark and for no other."""

    mark: DeskMark
    not_before: date | None = None

    def __str__(self) -> str:
        if self.not_before is None:
            return str(DESK_WORDS[self.mark])
        return str(_("Not before %(day)s")) % {"day": day_words(self.not_before)}


def desk_lines(outcome: Outcome) -> tuple[DeskLine, ...]:
    """Nothing at all when the desk has nothing to wait for. What only the program waits for is not its matter."""
    if any(_ended(finding) for finding in outcome.findings):
        return (DeskLine(DeskMark.NOT_GOING_AHEAD),)
    lines: list[DeskLine] = []
    # Several can hold at once; each is a different thing for the desk to do.
    waits = {unanswered.waits_for for unanswered in outcome.unanswered}
    if AnsweredBy.PATIENT in waits:
        lines.append(DeskLine(DeskMark.ANSWERS_MISSING))
    if AnsweredBy.CLINICIAN in waits or any(_needs_a_person(finding) for finding in outcome.findings):
        lines.append(DeskLine(DeskMark.DENTIST_TO_DECIDE))
    if outcome.not_before:
        lines.append(DeskLine(DeskMark.NOT_BEFORE, outcome.not_before))
    return tuple(lines)


def law_lines(law: Outcome, *, strength: Decimal | None, jurisdiction: Jurisdiction | None) -> tuple[Words, ...]:
    """Which local rule stands against the plan. A limit may have been made stricter after planning, so it is named."""
    return tuple(
        _too_strong(finding, strength, jurisdiction) for finding in law.findings if finding.grade >= Grade.NOT_YET
    )


def _too_strong(finding: Finding, strength: Decimal | None, jurisdiction: Jurisdiction | None) -> Words:
    if finding.rule.code != TOO_STRONG or strength is None or jurisdiction is None:
        return finding.rule.finding
    return strength_allowed(jurisdiction=jurisdiction, hp_percent=strength).sentence


def _ended(finding: Finding) -> bool:
    """A must-not is not the end by itself: the plan may change. A clinician says when it is."""
    stands = finding.decision is not None and finding.decision.kind is DecisionKind.STANDS
    return stands and finding.in_force and finding.rule.grade is Grade.MUST_NOT


def _needs_a_person(finding: Finding) -> bool:
    return finding.blocks and not (finding.rule.clears.by_date and finding.not_before)


def thanks_words(*, call_by: str, phone: str) -> tuple[Words, ...]:
    """What the patient reads after answering: the same for everybody, so that nothing can be read out of it."""
    return (
        _("Thank you. A dentist reads your answers before your visit. Nothing is decided yet."),
        format_lazy(_("If your date may have to change, we will call you by {day}."), day=call_by),
        format_lazy(_("Worried about something now? Call {phone}."), phone=phone),
    )
