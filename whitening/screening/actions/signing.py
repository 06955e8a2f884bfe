"""A clinician signs that everything was read: what was known, and what it came to, on that day."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.actions import hold_open
from whitening.cases.models import Case
from whitening.screening.joined import other_courses, to_sign
from whitening.screening.models import AssessmentSignature
from whitening.screening.reading import outcome_of
from whitening.screening.rulebook import RULES_VERSION
from whitening.screening.signed import digest, is_complete


class OutcomeChanged(Refusal):
    code = "screening.outcome_changed"
    sentence = _("Something has changed since you loaded the page. Read it as it stands now, then sign.")


class NotAllKnown(Refusal):
    code = "screening.not_all_known"
    sentence = _("Something is not answered or not looked at yet. It is signed when everything is known.")


def sign_assessment(*, case: Case, seen: str, user: User, actor: Actor, now: datetime) -> AssessmentSignature:
    """seen: the digest of all that was on the page, the findings of the person's other courses among it.

    Raises OutcomeChanged, NotAllKnown, CaseClosed, CoverRunOut.
    """
    require(user, Capability.EXAMINE_AND_DECIDE, case.site)
    today = now.astimezone(case.site.zone).date()
    require_in_date(user, today)
    with transaction.atomic():
        held = hold_open(case)
        outcome = outcome_of(held, today=today)
        data = to_sign(outcome, other_courses(held, today=today))
        if digest(data) != seen:
            raise OutcomeChanged
        if not is_complete(outcome):
            raise NotAllKnown
        row = AssessmentSignature.objects.create(
            case=case,
            rules_version=RULES_VERSION,
            outcome=data,
            sha256=seen,
            signed_at=now,
            signed_on=today,
            profession=user.profession,
            signed_by=user,
        )
        record(
            verb="screening.assessment_signed",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values={"sha256": seen, "findings": [one["rule"] for one in data["findings"]]},
        )
    return row
