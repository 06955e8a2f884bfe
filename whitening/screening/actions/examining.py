"""Writing down an examination, by somebody who may examine and decide here."""

from datetime import datetime

from django.db import transaction

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require, require_in_date
from clinic.trail.actor import Actor
from clinic.trail.record import record
from whitening.cases.actions import hold_open, into_the_chair
from whitening.cases.models import Case
from whitening.screening.examination import Examination, to_data
from whitening.screening.models import ExaminationRecord


def examine(
    *, case: Case, examination: Examination, note: str, user: User, actor: Actor, now: datetime
) -> ExaminationRecord:
    """Append-only: a second look is a second row, and the newest counts. Raises CoverRunOut, CaseClosed."""
    require(user, Capability.EXAMINE_AND_DECIDE, case.site)
    examined_on = now.astimezone(case.site.zone).date()
    require_in_date(user, examined_on)
    with transaction.atomic():
        hold_open(case)
        row = ExaminationRecord.objects.create(
            case=case,
            findings=to_data(examination),
            note=note,
            examined_at=now,
            examined_on=examined_on,
            profession=user.profession,
            examined_by=user,
        )
        record(
            verb="screening.examined",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values={"findings": row.findings, "note": note},
        )
        into_the_chair(case=case, actor=actor, now=now)
    return row
