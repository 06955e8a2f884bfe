"""Writing down a shade: one tab of the guide, at one moment, by one pair of eyes."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case, Moment, ShadeCorrection, ShadeReading
from whitening.shade.tabs import CLASSICAL_16, TABS


class UnknownTab(Refusal):
    code = "cases.unknown_tab"
    sentence = _("“%(tab)s” is no tab of this guide. Pick one of the sixteen.")


def read_shade(
    *,
    case: Case,
    moment: Moment,
    tab: str,
    actor: Actor,
    now: datetime,
    session_number: int | None = None,
    read_by: str = "",
) -> ShadeReading:
    """A reading right after a session is always provisional: the teeth are dry then.

    read_by: whose eyes it was, where somebody else writes it down.
    """
    if tab not in {one.code for one in TABS}:
        raise UnknownTab(tab=tab)
    with transaction.atomic():
        reading = ShadeReading.objects.create(
            case=case,
            moment=moment,
            guide=CLASSICAL_16.code,
            tab=tab,
            provisional=moment == Moment.FINISH,
            read_at=now,
            read_by=read_by or actor.name,
            session_number=session_number,
        )
        record(
            verb="cases.shade_read",
            actor=actor,
            subject=("case", case.pk),
            patient_id=case.patient_id,
            site_id=case.site_id,
            values={"moment": str(moment), "tab": tab, "guide": reading.guide, "provisional": reading.provisional},
        )
    return reading


def correct_shade(*, reading: ShadeReading, actor: Actor, now: datetime) -> ShadeCorrection:
    """From now on it is told of nowhere but in the trail and in the log of its session."""
    with transaction.atomic():
        row = ShadeCorrection.objects.create(reading=reading, corrected_at=now, corrected_by=actor.name)
        record(
            verb="cases.shade_corrected",
            actor=actor,
            subject=("case", reading.case_id),
            patient_id=reading.case.patient_id,
            site_id=reading.case.site_id,
            values={"reading": reading.pk, "moment": str(reading.moment), "tab": reading.tab},
        )
    return row
