"""Asking a doctor or specialist in writing about a finding, and filing what they answered."""

from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.documents import actions as documents
from clinic.documents import filing
from clinic.documents.models import IncomingPaper, PaperKind
from clinic.patients.person import is_of_person
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.screening.letters import KIND, may_answer
from whitening.screening.models import Letter, LetterReply
from whitening.screening.reading import outcome_of


class NoLetterHere(Refusal):
    code = "screening.no_letter_here"
    sentence = _("This finding does not stand any more, or no letter ends it. Reload the page to see what stands now.")


class PatientNotAsked(Refusal):
    code = "screening.patient_not_asked"
    sentence = _("Ask the patient first: nothing about them leaves the practice without their word.")


class NoReply(Refusal):
    code = "screening.no_reply"
    sentence = _("Only a letter that came in for this patient answers a letter, and each only one.")


class ReplyTooOld(Refusal):
    code = "screening.reply_too_old"
    sentence = _("This paper is dated before our letter, so it does not answer it. File it without a letter of ours.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LetterDetails:
    rule: str
    addressee: str
    question: str
    planned: str
    patient_agrees: bool


def write_letter(*, case: Case, details: LetterDetails, user: User, actor: Actor, now: datetime) -> Letter:
    """Drawn before the transaction; in it, with the case locked, the finding is asked about once more.

    Raises NoLetterHere, PatientNotAsked, CaseClosed, CoverRunOut, RenderFailed.
    """
    require(user, Capability.EXAMINE_AND_DECIDE, case.site)
    require_in_date(user, now.astimezone(case.site.zone).date())
    if not details.patient_agrees:
        raise PatientNotAsked
    _check(case, details.rule, now)
    prepared = documents.prepare(
        kind=KIND,
        patient=case.patient,
        site=case.site,
        context={"letter": details, "written_by": user, "written_at": now},
        # A colleague reads it, not the patient.
        language=settings.LANGUAGE_CODE,
        title=_("Letter to a doctor or specialist"),
        now=now,
    )
    with transaction.atomic():
        _check(hold_open(case), details.rule, now)
        letter = Letter.objects.create(
            case=case,
            rule=details.rule,
            addressee=details.addressee,
            question=details.question,
            planned=details.planned,
            document=documents.file_away(prepared, subject=("case", case.pk), actor=actor),
            written_at=now,
            written_by=user,
        )
        values = {"rule": details.rule, "addressee": details.addressee, "document": letter.document_id}
        _record("screening.letter_written", case, actor, values)
    return letter


def attach_reply(*, letter: Letter, paper: IncomingPaper, user: User, actor: Actor, now: datetime) -> LetterReply:
    """Whoever opens the post may; what it says is read and decided about by a dentist.

    Raises NoReply, ReplyTooOld or NotedAsMistake.
    """
    case = letter.case
    require(user, Capability.PAPERS_FILE, case.site)
    if not is_of_person(paper.patient_id, case.patient) or paper.kind != PaperKind.LETTER:
        raise NoReply
    if not may_answer(letter, paper):
        raise ReplyTooOld
    try:
        with transaction.atomic():
            filing.hold_standing(paper)
            reply = LetterReply.objects.create(letter=letter, paper=paper, attached_at=now, attached_by=user)
            _record("screening.reply_attached", case, actor, {"letter": letter.pk, "paper": paper.pk})
    except IntegrityError as error:
        raise NoReply from error
    return reply


def _check(case: Case, rule: str, now: datetime) -> None:
    finding = outcome_of(case, today=now.astimezone(case.site.zone).date()).finding(rule)
    if finding is None or not finding.in_force or not finding.rule.clears.by_letter:
        raise NoLetterHere


def _record(verb: str, case: Case, actor: Actor, values: dict[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("case", case.pk),
        patient_id=case.patient_id,
        site_id=case.site_id,
        values=values,
    )
