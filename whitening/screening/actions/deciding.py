"""A clinician's decision about one finding: who, why, when, on which basis."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.documents import filing
from clinic.documents.models import IncomingPaper, PaperKind
from clinic.documents.sections import may_open
from clinic.patients.person import is_of_person
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.access import plan_in_force
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.cases.papers import is_about
from whitening.screening.decisions import DecisionFacts, DecisionKind, why_not
from whitening.screening.grades import Profession
from whitening.screening.letters import may_answer
from whitening.screening.models import Decision, LetterReply
from whitening.screening.reading import outcome_of, plan_facts
from whitening.screening.rulebook import RULES_VERSION


class DecisionNotPossible(Refusal):
    code = "screening.decision_not_possible"
    sentence = _("%(why)s")


class FindingGone(Refusal):
    code = "screening.finding_gone"
    sentence = _("This finding is not there any more. Reload the page to see what stands now.")


class PaperNotRead(Refusal):
    code = "screening.paper_not_read"
    sentence = _("%(why)s")


def decide(
    *,
    case: Case,
    rule: str,
    basis: str,
    kind: DecisionKind,
    reason: str,
    evidence: str,
    user: User,
    actor: Actor,
    now: datetime,
    paper: IncomingPaper | None = None,
) -> Decision:
    """paper: one that came in and was read for it; it is the evidence, beside what is written of it.

    Raises DecisionNotPossible with the rule's sentence, PaperNotRead, NotedAsMistake, FindingGone, CaseClosed,
    CoverRunOut.
    """
    require(user, Capability.EXAMINE_AND_DECIDE, case.site)
    today = now.astimezone(case.site.zone).date()
    require_in_date(user, today)
    if paper is not None:
        _check_paper(case, paper, user)
        evidence = evidence.strip() or paper_words(paper)
    decision = DecisionFacts(
        code=rule,
        kind=kind,
        basis=basis,
        decided_at=now,
        decided_on=today,
        decided_by=user.name,
        profession=Profession(user.profession),
        reason=reason,
        evidence=evidence,
    )
    with transaction.atomic():
        # The row lock makes the finding that is read the finding that is decided about.
        _check(hold_open(case), decision)
        if paper is not None:
            filing.hold_standing(paper)
        row = _keep(case, decision, paper, user)
        if paper is not None:
            _answer_letter(case, rule, paper, user, now)
        _record(row, actor)
    return row


def _keep(case: Case, decision: DecisionFacts, paper: IncomingPaper | None, user: User) -> Decision:
    return Decision.objects.create(
        case=case,
        rule=decision.code,
        rules_version=RULES_VERSION,
        sort=decision.kind,
        basis=decision.basis,
        reason=decision.reason,
        evidence=decision.evidence,
        paper=paper,
        decided_at=decision.decided_at,
        decided_on=decision.decided_on,
        profession=user.profession,
        decided_by=user,
    )


def _record(row: Decision, actor: Actor) -> None:
    paper = {"paper": row.paper.pk, "sha256": row.paper.sha256} if row.paper else {}
    record(
        verb="screening.decided",
        actor=actor,
        subject=("case", row.case_id),
        patient_id=row.case.patient_id,
        site_id=row.case.site_id,
        values={"rule": row.rule, "kind": str(row.sort), "reason": row.reason, "evidence": row.evidence} | paper,
    )


def paper_words(paper: IncomingPaper) -> str:
    """What was read, in words that stand beside the decision."""
    said = [str(paper.get_kind_display()).capitalize()]
    said += [paper.sender] if paper.sender else []
    said += [gettext("dated %(day)s") % {"day": day_words(paper.dated_on)}] if paper.dated_on else []
    return ", ".join(said)


def _check_paper(case: Case, paper: IncomingPaper, user: User) -> None:
    if not is_of_person(paper.patient_id, case.patient):
        raise PaperNotRead(why=_("This paper belongs to somebody else."))
    if not is_about(case, paper):
        raise PaperNotRead(why=_("This paper was filed about another case of the patient."))
    if paper.kind == PaperKind.CONSENT:
        raise PaperNotRead(why=_("A signed consent says what was agreed, not what was found: it is no evidence."))
    if paper.dated_on is None:
        raise PaperNotRead(why=_("This paper bears no date, so it is no evidence. Ask for a dated one."))
    if not may_open(paper, user):
        raise PaperNotRead(why=_("You may not open this paper, so you cannot have read it."))


def _answer_letter(case: Case, rule: str, paper: IncomingPaper, user: User, now: datetime) -> None:
    """Whoever decides with a letter has said which of ours it answers, where nobody did before."""
    asked = case.letters.filter(rule=rule, replies=None).order_by("written_at", "pk").last()
    if asked is None or paper.kind != PaperKind.LETTER or not may_answer(asked, paper):
        return
    if not LetterReply.objects.filter(paper=paper).exists():
        LetterReply.objects.create(letter=asked, paper=paper, attached_at=now, attached_by=user)


def _check(case: Case, decision: DecisionFacts) -> None:
    finding = outcome_of(case, today=decision.decided_on).finding(decision.code)
    if finding is None:
        raise FindingGone
    plan = plan_in_force(case)
    forbidden = why_not(
        rule=finding.rule, basis=finding.basis, decision=decision, plan=plan_facts(plan) if plan else None
    )
    if forbidden is not None:
        raise DecisionNotPossible(why=forbidden)
