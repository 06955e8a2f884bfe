"""What a patient was told straight after an answer, as the patient's own page and the staff's page both show it."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django_stubs_ext import StrOrPromise

from clinic.accounts.rota import on_call_at
from whitening.cases.models import Case
from whitening.recall.advice import ToDo, reasons, to_do
from whitening.recall.models import Reply
from whitening.recall.reading_hours import reads_at
from whitening.recall.triage import Triage, kept

# What should be seen on the same day may wait for the practice over a night, but not over a weekend; common
# practice, no source. It stays below the day of F48-06.
A_NIGHT = timedelta(hours=16)


@dataclass(frozen=True, slots=True)
class Told:
    to_do: ToDo
    reasons: list[StrOrPromise]
    is_open: bool
    reads_at: datetime
    opens_soon: bool
    answered_by: datetime | None
    has_phone: bool
    # Somebody answers for the practice also while it is closed, and has been told.
    on_call_told: bool

    @property
    def worries(self) -> bool:
        return self.to_do is not ToDo.NOTHING

    @property
    def can_wait_until_open(self) -> bool:
        return self.to_do is ToDo.CALL_TODAY and not self.is_open and self.opens_soon

    @property
    def first_number(self) -> str:
        """Which of the site's numbers is the one to call, or none where we call, or where calling waits."""
        if self.to_do is ToDo.EMERGENCY:
            return "emergency"
        if self.to_do not in {ToDo.CALL_NOW, ToDo.CALL_TODAY} or self.can_wait_until_open:
            return ""
        return "practice" if self.is_open else "out_of_hours"


def told(reply: Reply, *, at: datetime) -> Told:
    """As it stands at that moment. Nothing is graded again; only opening hours are looked up."""
    escalation = getattr(reply, "escalation", None)
    return _told(
        kept(reply.rules),
        case=reply.case,
        sensitivity=reply.answers.get("sensitivity"),
        smoked=reply.answers.get("smoke") == "smoked",
        answered_by=escalation.due_at if escalation else None,
        at=at,
    )


def told_unkept(graded: Triage, *, case: Case, sensitivity: int | None, at: datetime) -> Told:
    """What has to be done after an answer that could not be written down; nobody can be promised a call."""
    return _told(graded, case=case, sensitivity=sensitivity, smoked=False, answered_by=None, at=at)


def _told(
    graded: Triage, *, case: Case, sensitivity: int | None, smoked: bool, answered_by: datetime | None, at: datetime
) -> Told:
    read_from = reads_at(case.site, now=at)
    return Told(
        to_do=to_do(graded),
        reasons=reasons(graded, sensitivity=sensitivity, smoked=smoked),
        is_open=read_from == at,
        reads_at=read_from,
        opens_soon=read_from - at <= A_NIGHT,
        answered_by=answered_by,
        has_phone=bool(case.patient.phone),
        on_call_told=answered_by is not None and on_call_at(case.site, at) is not None,
    )
