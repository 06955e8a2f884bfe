"""How many were to be asked back, and how far it came with each: no rate from elsewhere is assumed (S39)."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, OuterRef, Q, Subquery
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import User
from clinic.patients.models import ContactChoice, Purpose
from whitening.recall.models import Recall, RecallKind, RecallQuerySet, RecallState

OF_THE_LAST = timedelta(days=365)
# In the order of the numbers of a funnel.
STEPS = ("due", "asked", "answered", "booked", "not_reached")
SOON = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Funnel:
    """Of those due in the last year. Each number is part of the one before, but for `not_reached`."""

    kind: StrOrPromise
    due: int
    asked: int
    answered: int
    booked: int
    not_reached: int


def funnels(user: User, *, now: datetime) -> Iterator[Funnel]:
    """One query; a kind of which nothing was due is shown with noughts."""
    booked, answered = Q(state=RecallState.BOOKED), Q(state__in=[RecallState.ANSWERED, RecallState.BOOKED])
    due = Recall.objects.visible_to(user).filter(due_at__lte=now, due_at__gt=now - OF_THE_LAST)
    # Whom nobody was to ask (any more) was not due either.
    due = due.exclude(state=RecallState.CANCELLED)
    asked = Q(times_asked__gt=0)
    counted = (
        due.order_by()
        .values("kind")
        .annotate(
            due=Count("pk"),
            asked=Count("pk", filter=asked),
            answered=Count("pk", filter=asked & answered),
            booked=Count("pk", filter=asked & booked),
            not_reached=Count("pk", filter=Q(state=RecallState.NOT_REACHED)),
        )
    )
    found = {kind: numbers for kind, *numbers in counted.values_list("kind", *STEPS)}
    for kind in RecallKind:
        yield Funnel(kind.label, *found.get(kind.value, [0] * len(STEPS)))


def coming(user: User, *, now: datetime) -> RecallQuerySet:
    """Asked and silent, and those whose day comes soon: in order of the day."""
    chosen = ContactChoice.objects.filter(patient=OuterRef("case__patient"), purpose=Purpose.COLOUR, channel="")
    wished = Subquery(chosen.order_by("-chosen_at", "-pk").values("allowed")[:1])
    rows = Recall.objects.visible_to(user).open().filter(next_at__lte=now + SOON).annotate(wished=wished)
    rows = rows.filter(Q(kind=RecallKind.CHECK) | Q(wished=True))
    return rows.select_related("case__patient", "site").order_by("next_at", "pk")
