"""What counts against a patient's limits: the messages of the last days, and those that go out at this moment."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q

from clinic.messages import kinds
from clinic.messages.models import DueMessage, State
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
    counting = tuple(code for code, kind in kinds.registered().items() if kind.keeps_limits)
    values = {"patient": patient.pk, "pk": message.pk, "after": now - WEEK - timedelta(days=1)}
    pks = [pk for (pk,) in _counting(counting).rows(**values)]
    # Nearly always there was none.
    rows = DueMessage.objects.filter(pk__in=pks).values_list("pk", "state", "handed_over_at") if pks else []
    going = State.HANDING_OVER
    found = [(pk, state == going, now if state == going else at) for pk, state, at in rows]
    return [Other(pk, is_going, at) for pk, is_going, at in found if at is not None]


@once
def _counting(kinds_that_count: tuple[str, ...]) -> Statement:
    of = DueMessage._meta.get_field
    rows = DueMessage.objects.filter(patient=Blank("patient", of("patient")), kind__in=kinds_that_count)
    gone = Q(state__in=GONE_OUT, handed_over_at__gt=Blank("after", of("handed_over_at")))
    # Another sweeper may be handing one over at this moment.
    counted = rows.exclude(pk=Blank("pk", of("id"))).filter(gone | Q(state=State.HANDING_OVER))
    return select(counted.order_by().values_list("pk"))
