"""What changes Today on an open screen, asked every two seconds: never more than a few short questions."""

import zlib
from datetime import datetime

from django.db.models import QuerySet

from clinic.accounts.models import Site
from clinic.diary.live import tag_now
from clinic.diary.models import LateQuestion, OwnChange, Status
from clinic.diary.reading import day_bounds, of_day
from clinic.diary.waitlist.noting import OFFER
from clinic.messages.models import Call
from whitening.recall.models import Escalation, FollowUp, FollowUpState


def live_tag(site: Site, *, now: datetime) -> str:
    """Visits of the day and their patients, questions, news, worrying answers and calls. Six short queries."""
    visits = of_day(site, now.astimezone(site.zone).date(), now=now).exclude(status=Status.PENDING)
    asked = LateQuestion.objects.standing(site=site, now=now)
    also = [
        *((-pk, len(said)) for pk, said in asked.values_list("pk", "answer")),
        *((0, pk) for pk in OwnChange.objects.unseen(site).order_by("pk").values_list("pk", flat=True)),
        (0, _of_answers_and_calls(site, now)),
    ]
    return tag_now(site, visits, now=now, also=also)


def _of_answers_and_calls(site: Site, now: datetime) -> int:
    """Below zero: no key of a row."""
    worries = Escalation.objects.open().filter(case__site=site).order_by("pk").values_list("pk", "owner", "due_at")
    calls = due_calls(site, now).order_by("pk").values_list("pk", "version")
    message_calls = open_message_calls(site, now).order_by("pk").values_list("pk", flat=True)
    return ~zlib.crc32(repr((list(worries), list(calls), list(message_calls))).encode())


def due_calls(site: Site, now: datetime) -> QuerySet[FollowUp]:
    """Those of today and any before; one that was promised for tomorrow is made tomorrow."""
    _start_at, end_at = day_bounds(site, now.astimezone(site.zone).date())
    return FollowUp.objects.filter(site=site, state=FollowUpState.CALL, next_at__lt=end_at)


def open_message_calls(site: Site, now: datetime) -> QuerySet[Call]:
    """Without those about a free time: they stand apart, with the minute until which it is held."""
    return Call.objects.filter(site=site).to_make(now=now).exclude(message__kind=OFFER)


def open_letters(site: Site, now: datetime) -> QuerySet[Call]:
    return Call.objects.filter(site=site).on_paper(now=now)
