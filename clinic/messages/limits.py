"""What counts against a patient's limits: the messages of the last days, and those that go out at this moment."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q

from clinic.messages import kinds
from clinic.messages.models import DueMessage, State
from clinic.messages.models.due import DueMessageQuerySet
from clinic.messages.rules import WEEK
from clinic.patients.models import Patient
from clinic.trail.readymade import Blank, Statement, once, select

GONE_OUT = [State.HANDED_OVER, State.DELIVERED, State.UNCERTAIN]


@dataclass(frozen=True, slots=True)
class Other:
    """Another message to the same patient: when it went out, or now while it is going."""

    pk: int
    is_going: bool
    at: datetime


def others(message: DueMessage, patient: Patient, now: datetime) -> list[Other]:
    asked = asked_about(message.pk, patient.pk, now)
    pks = [pk for (pk,) in _counting(kinds_that_count()).rows(**asked)]
    # Nearly always there was none.
    rows = DueMessage.objects.filter(pk__in=pks).values_list("pk", "state", "handed_over_at") if pks else []
    going = State.HANDING_OVER
    found = [(pk, state == going, now if state == going else at) for pk, state, at in rows]
    return [Other(pk, is_going, at) for pk, is_going, at in found if at is not None]


def kinds_that_count() -> tuple[str, ...]:
    return tuple(code for code, kind in kinds.registered().items() if kind.keeps_limits)


@once
def _counting(these_kinds: tuple[str, ...]) -> Statement:
    return select(counted(these_kinds).values_list("pk"))


def counted(these_kinds: tuple[str, ...]) -> DueMessageQuerySet:
    """For a statement that is made once: `asked_about` fills it in. Also what went to a record that was joined with
    theirs.
    """
    of, patient = DueMessage._meta.get_field, Blank("patient", DueMessage._meta.get_field("patient"))
    theirs = Patient.objects.filter(Q(pk=patient) | Q(merged_into=patient)).order_by().values("pk")
    rows = DueMessage.objects.filter(patient__in=theirs, kind__in=these_kinds)
    gone = Q(state__in=GONE_OUT, handed_over_at__gt=Blank("after", of("handed_over_at")))
    # Another sweeper may be handing one over at this moment.
    return rows.exclude(pk=Blank("pk", of("id"))).filter(gone | Q(state=State.HANDING_OVER)).order_by()


def asked_about(message: int, patient: int, now: datetime) -> dict[str, object]:
    return {"patient": patient, "pk": message, "after": now - WEEK - timedelta(days=1)}
