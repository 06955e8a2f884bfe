"""The findings of an assessment, each with what this reader may do about it."""

from collections.abc import Sequence
from dataclasses import dataclass

from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.documents.models import IncomingPaper, PaperKind
from clinic.documents.sections import may_open
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case
from whitening.cases.papers import papers_of
from whitening.screening.decisions import DecisionKind, kinds_for
from whitening.screening.forms import DecisionForm, LetterForm
from whitening.screening.letters import letters_of, planned_words
from whitening.screening.models import Letter
from whitening.screening.outcome import Finding
from whitening.screening.teeth import tooth


@dataclass(frozen=True, slots=True)
class FindingRow:
    """A form is None where this reader may not decide or write, or nobody can."""

    finding: Finding
    teeth: tuple[StrOrPromise, ...]
    form: DecisionForm | None
    letter_form: LetterForm | None
    letters: Sequence[Letter]

    @property
    def only_confirms(self) -> bool:
        return kinds_for(self.finding.rule) == (DecisionKind.STANDS,)


def papers_to_read(case: Case, user: User) -> list[IncomingPaper]:
    """What may be evidence: papers of this case, and of the patient where they are about no case at all."""
    rows = papers_of(case).exclude(kind=PaperKind.CONSENT)
    return [paper for paper in rows.select_related("site", "mistake") if may_open(paper, user)]


def finding_rows(
    case: Case,
    findings: Sequence[Finding],
    *,
    user: User,
    decides: bool,
    form: DecisionForm | None,
    letter_form: LetterForm | None,
) -> list[FindingRow]:
    """The worst first, as each counts now."""
    order = sorted(findings, key=lambda finding: (-finding.grade, -finding.rule.grade))
    papers, letters = papers_to_read(case, user) if decides else [], letters_of(case)
    planned = planned_words(plan_in_force(case))
    return [
        FindingRow(
            finding,
            tuple(tooth(number).label for number in finding.teeth),
            DecisionForm.about(finding, papers=papers, held=form)
            if decides and finding.in_force and not finding.rule.never_overridable
            else None,
            LetterForm.about(finding, planned=planned, held=letter_form)
            if decides and finding.in_force and finding.rule.clears.by_letter
            else None,
            [letter for letter in letters if letter.rule == finding.rule.code],
        )
        for finding in order
    ]
