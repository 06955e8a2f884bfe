"""Run as a program of its own, so that a race is one between processes.

`prepare`: one time is on offer, and the next one waits; with `later`, it would move a visit up. Prints the offer's id.
`act WHAT OFFER MINUTES AT`: at one moment somebody says yes or no, the tick rings, or a desk books that time.
`look OFFER`: what became of it.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
import time
from datetime import timedelta
from typing import Any

import django

django.setup()

from django.db import models  # noqa: E402  (models exist only now)

from clinic.diary import actions  # noqa: E402
from clinic.diary.models import COMING, Booking, ResourceClaim, WaitingOffer  # noqa: E402
from clinic.diary.waitlist.answering import accept, decline  # noqa: E402
from clinic.diary.waitlist.offering import tick  # noqa: E402
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail.actor import SYSTEM  # noqa: E402
from clinic.trail.refusals import Refusal  # noqa: E402
from tests.cast import NOW, open_practice  # noqa: E402
from tests.clinic.diary.house import another_patient, at, book, furnish, visit  # noqa: E402
from tests.clinic.diary.waitlist.waiting import one_offer, wish  # noqa: E402


def prepare(kind: str) -> int:
    cast = open_practice()
    furnish(cast)
    ines = another_patient(cast, 1)
    later = book(cast, at(14), patient=ines, tell=False) if kind == "later" else None
    offer = one_offer(cast, ines, instead=later)
    wish(cast, another_patient(cast, 2))
    another_patient(cast, 3)
    return offer.pk


def act(what: str, pk: int, minutes: int, starts_at: float) -> dict[str, str]:
    offer, now = WaitingOffer.objects.get(pk=pk), NOW + timedelta(minutes=minutes)
    third = Patient.objects.select_related("site").get(name="Ines Costa 3")
    request = actions.BookingRequest(third, visit(), at(10))
    deeds: dict[str, Any] = {
        "yes": lambda: accept(offer=offer, actor=SYSTEM, now=now),
        "no": lambda: decline(offer=offer, actor=SYSTEM, now=now),
        "tick": lambda: tick(now=now),
        "book": lambda: actions.book(site=third.site, request=request, actor=SYSTEM, now=now),
    }
    time.sleep(max(0.0, starts_at - time.time()))
    try:
        deeds[what]()
    except Refusal as refusal:
        return {"said": refusal.code}
    return {"said": "done"}


def look(pk: int) -> dict[str, Any]:
    claims = ResourceClaim.objects.filter(active=True)
    pairs = claims.filter(
        resource__claims__active=True,
        resource__claims__start_at__lt=models.F("end_at"),
        resource__claims__end_at__gt=models.F("start_at"),
        resource__claims__pk__gt=models.F("pk"),
    )
    offer = WaitingOffer.objects.get(pk=pk)
    return {
        "answer": offer.answer,
        # Who has the time at ten now, and how.
        "at_ten": [
            f"{one.patient.name} {one.status}"
            for one in Booking.objects.filter(starts_at=at(10), status__in=COMING).select_related("patient")
        ],
        "overlaps": pairs.count(),
        "idle": claims.exclude(booking__status__in=COMING).count(),
        "open": list(WaitingOffer.objects.filter(answer="").values_list("wish__patient__name", flat=True)),
    }


def main(command: str, *words: str) -> None:
    answer: object
    if command == "prepare":
        answer = prepare(words[0])
    elif command == "act":
        answer = act(words[0], int(words[1]), int(words[2]), float(words[3]))
    else:
        answer = look(int(words[0]))
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
