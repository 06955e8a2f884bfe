"""The letter that asks a patient back for a dental check. It is about teeth and gums, and offers no treatment."""

from datetime import datetime

from django.utils.translation import gettext_lazy as _

from clinic.documents import actions as documents
from clinic.documents import kinds, larger
from clinic.documents.models import IssuedDocument
from clinic.patients.actions import allowed_purposes
from clinic.patients.models import Patient, Purpose
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case
from whitening.recall.models import Review

KIND = "check_letter"


class NotReviewedYet(Refusal):
    code = "recall.not_reviewed_yet"
    sentence = _("The month review comes first: until then the patient is asked and called about this treatment.")


class NoMoreLetters(Refusal):
    code = "recall.no_more_letters"
    sentence = _("This patient does not want to be told when the next check is due, so no letter is made.")


class NobodyToWriteTo(Refusal):
    code = "recall.nobody_to_write_to"
    sentence = _("The register says that this patient died or moved away, so no letter is made.")


class NoAddress(Refusal):
    code = "recall.no_address"
    sentence = _("No postal address is known. Write it down on the patient’s page first.")


def why_not(case: Case) -> Refusal | None:
    """What stands against a letter, if anything does."""
    patient = case.patient
    if not Review.objects.filter(case=case).exists():
        return NotReviewedYet()
    if patient.died_on is not None or patient.moved_on is not None:
        return NobodyToWriteTo()
    if not allowed_purposes(patient)[Purpose.RECALL]:
        return NoMoreLetters()
    return None if patient.address.strip() else NoAddress()


def letter_of(case: Case, *, actor: Actor, now: datetime, is_large: bool = False) -> IssuedDocument:
    """A new one at each press: it carries the day on which it is sent. Raises what `why_not` names, RenderFailed."""
    refusal = why_not(case)
    if refusal is not None:
        raise refusal
    patient: Patient = case.patient
    return documents.issue(
        kind=KIND,
        patient=patient,
        site=case.site,
        context={"seen_at": Review.objects.get(case=case).reviewed_at},
        language=patient.language,
        title=_("Your next dental check"),
        subject=("case", case.pk),
        actor=actor,
        now=now,
        large_print=is_large,
    )


def _larger(document: IssuedDocument, actor: Actor, now: datetime) -> IssuedDocument:
    rows = Case.objects.select_related("site", "patient")
    return letter_of(rows.get(pk=int(document.subject_id)), actor=actor, now=now, is_large=True)


def register() -> None:
    kinds.register(
        kinds.DocumentKind(
            code=KIND,
            word=_("letter about a dental check"),
            clinical=False,
            template="documents/check_letter.html",
            version=1,
        )
    )
    larger.register(KIND, _larger)
