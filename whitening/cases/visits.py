"""The visits of a whitening case. Every length is common practice, no source, and can be changed in Set-up."""

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.diary.models import Need, VisitCode
from clinic.diary.standard import Claims, SegmentPlan, VisitPlan

_ROOM: Claims = ((Need.ROOM, False),)
_ROOM_ASSISTANT: Claims = (*_ROOM, (Need.ASSISTANT, False))
_BOTH: Claims = (*_ROOM_ASSISTANT, (Need.CLINICIAN, False))
_BOTH_AND_LIGHT: Claims = (*_BOTH, (Need.LIGHT_ANY, True))
_CLINICIAN: Claims = (*_ROOM, (Need.CLINICIAN, False))
_EXAMINER: Claims = (*_ROOM, (Need.EXAMINER, False))


def _segment(
    name: StrOrPromise, minutes: int, needs: Claims, *, per_cycle: bool = False, measured_as: str = ""
) -> SegmentPlan:
    """measured_as: a stretch of the session's log, named by the part that keeps it."""
    return SegmentPlan(name, minutes, needs, "common practice, no source", per_cycle, measured_as)


STANDARD_VISITS: tuple[VisitPlan, ...] = (
    VisitPlan(
        VisitCode.CONSULTATION,
        _("Consultation"),
        (_segment(_("Talk and examination"), 30, _EXAMINER), _segment(_("Turn-round"), 5, _ROOM)),
        patient_name=_("Talk and check-up"),
    ),
    VisitPlan(
        VisitCode.TREATMENT,
        _("Whitening session"),
        (
            _segment(_("Set-up"), 10, _ROOM_ASSISTANT),
            _segment(_("Start and barrier"), 25, _BOTH_AND_LIGHT, measured_as="start"),
            # The clinician stays through the cycles until a practice sets otherwise where its rules allow.
            _segment(_("Cycle"), 20, _BOTH_AND_LIGHT, per_cycle=True, measured_as="cycle"),
            _segment(_("Finish"), 15, _BOTH, measured_as="finish"),
            _segment(_("Turn-round"), 10, _ROOM_ASSISTANT),
        ),
        patient_name=_("Whitening visit"),
    ),
    VisitPlan(
        VisitCode.REVIEW,
        _("Month review"),
        (_segment(_("Review"), 20, _EXAMINER), _segment(_("Turn-round"), 5, _ROOM)),
        patient_name=_("Check after a month"),
        patient_may_book=True,
    ),
    VisitPlan(
        VisitCode.PROBLEM,
        _("Problem visit"),
        (_segment(_("Look and help"), 20, _EXAMINER), _segment(_("Turn-round"), 5, _ROOM)),
        patient_name=_("Visit about a problem"),
    ),
    VisitPlan(
        VisitCode.HYGIENE,
        _("Scale and polish"),
        (_segment(_("Scale and polish"), 30, _CLINICIAN), _segment(_("Turn-round"), 10, _ROOM)),
        patient_name=_("Cleaning"),
    ),
    VisitPlan(
        VisitCode.IMPRESSIONS,
        _("Impressions or scan"),
        (_segment(_("Impressions or scan"), 20, _CLINICIAN), _segment(_("Turn-round"), 5, _ROOM)),
        patient_name=_("Moulds or a scan for your trays"),
    ),
    VisitPlan(
        VisitCode.FITTING,
        _("Tray fitting"),
        (_segment(_("Fit the trays, show how to wear them"), 20, _CLINICIAN), _segment(_("Turn-round"), 5, _ROOM)),
        patient_name=_("Trying on your trays"),
    ),
)
