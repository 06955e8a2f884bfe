"""What the page of the waiting list shows: a number of queries that does not grow with it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, QuerySet

from clinic.accounts.models import Site
from clinic.diary.models import Answer, WaitingOffer, WaitingWish, WishEnd
from clinic.diary.reading import day_bounds
from clinic.diary.waitlist.noting import OFFER
from clinic.messages.models import Call, DueMessage

# Of more than these nobody reads on; the longest waiting come first.
SHOWN = 200
# Whoever was taken off by a press can be put back by one, on the same day.
BY_SOMEBODY = (WishEnd.REMOVED, WishEnd.LEFT)


@dataclass(frozen=True, slots=True)
class OnOffer:
    """message: how the patient is told, or will be. call: somebody has to call them about it."""

    offer: WaitingOffer
    message: DueMessage | None
    call: Call | None


@dataclass(frozen=True, slots=True)
class WaitingList:
    on_offer: Sequence[OnOffer]
    waiting: Sequence[WaitingWish]
    answered: Sequence[WaitingOffer]
    taken_off: Sequence[WaitingWish]


def read_list(site: Site, *, now: datetime) -> WaitingList:
    start_at, end_at = day_bounds(site, now.astimezone(site.zone).date())
    offers = WaitingOffer.objects.filter(wish__site=site)
    related = ("wish__site", "wish__patient", "wish__visit_type", "wish__person", "wish__booking")
    gone = WaitingWish.objects.filter(site=site, ended_because__in=BY_SOMEBODY)
    answered = offers.exclude(answer=Answer.OPEN).filter(answered_at__gte=start_at, answered_at__lt=end_at)
    return WaitingList(
        on_offer=on_offer(offers, now=now),
        waiting=list(_waiting(site, now)[:SHOWN]),
        answered=list(answered.select_related(*related).order_by("-answered_at", "-pk")[:SHOWN]),
        taken_off=list(
            gone.filter(ended_at__gte=start_at, ended_at__lt=end_at)
            .select_related("site", "patient", "visit_type")
            .order_by("-ended_at", "-pk")[:SHOWN]
        ),
    )


def on_offer(offers: QuerySet[WaitingOffer], *, now: datetime) -> list[OnOffer]:
    """Those that can still be answered, the one that ends first on top."""
    related = ("wish__site", "wish__patient", "wish__visit_type", "wish__person", "wish__booking", "booking__site")
    rows = offers.filter(answer=Answer.OPEN, answer_by__gt=now, booking__status="pending")
    found = list(rows.select_related(*related).order_by("answer_by", "starts_at", "pk"))
    messages = _messages([one.pk for one in found])
    calls = _calls([one.pk for one in found])
    return [OnOffer(one, messages.get(one.pk), calls.get(one.pk)) for one in found]


def calls_to_make(site: Site, *, now: datetime) -> list[OnOffer]:
    """Offers of which a message could not tell: the desk calls, and answers for the patient."""
    return [one for one in on_offer(WaitingOffer.objects.filter(wish__site=site), now=now) if one.call is not None]


def waiting_of(patient_id: int, *, now: datetime) -> QuerySet[WaitingWish]:
    """What one patient waits for."""
    return _told(WaitingWish.objects.waiting().filter(patient=patient_id), now)


def _waiting(site: Site, now: datetime) -> QuerySet[WaitingWish]:
    return _told(WaitingWish.objects.waiting().filter(site=site), now)


def _told(rows: QuerySet[WaitingWish], now: datetime) -> QuerySet[WaitingWish]:
    """With everything that its line says."""
    offered = WaitingOffer.objects.open(now=now).filter(wish=OuterRef("pk"))
    rows = rows.select_related("site", "patient", "visit_type", "person", "booking")
    return rows.annotate(has_offer=Exists(offered)).order_by("since_on", "pk")


def _messages(ids: Sequence[int]) -> Mapping[int, DueMessage]:
    """The last one of each: a further try on another channel comes later."""
    rows = DueMessage.objects.filter(subject_kind=OFFER, subject_id__in=ids).order_by("pk")
    return {row.subject_id: row for row in rows}


def _calls(ids: Sequence[int]) -> Mapping[int, Call]:
    rows = Call.objects.open().filter(message__subject_kind=OFFER, message__subject_id__in=ids)
    return {row.message.subject_id: row for row in rows.select_related("message").order_by("pk")}
