"""Run as a program of its own, so that a race is one between processes: one time is on offer, and the next one waits.

At one moment some say yes or no, the tick rings, a desk books that time. Prints what each was told, and what is there
afterwards.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
from datetime import timedelta
from functools import partial
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
from tests.at_once import at_once  # noqa: E402
from tests.cast import NOW, open_practice  # noqa: E402
from tests.clinic.diary.house import another_patient, at, book, furnish, visit  # noqa: E402
from tests.clinic.diary.waitlist.waiting import one_offer, wish  # noqa: E402

# What each does, and how many minutes after the offer: it can be answered for thirty.
DEEDS = (("yes", 29), ("yes", 29), ("no", 29), ("tick", 30), ("tick", 30), ("book", 30))


def prepare() -> int:
    """The offer would move a later visit up, the longest of the ways to say yes."""
    cast = open_practice()
    furnish(cast)
    ines = another_patient(cast, 1)
    offer = one_offer(cast, ines, instead=book(cast, at(14), patient=ines, tell=False))
    wish(cast, another_patient(cast, 2))
    another_patient(cast, 3)
    return offer.pk


def act(what: str, pk: int, minutes: int) -> str:
    offer, now = WaitingOffer.objects.get(pk=pk), NOW + timedelta(minutes=minutes)
    third = Patient.objects.select_related("site").get(name="Ines Costa 3")
    request = actions.BookingRequest(third, visit(), at(10))
    deeds: dict[str, Any] = {
        "yes": lambda: accept(offer=offer, actor=SYSTEM, now=now),
        "no": lambda: decline(offer=offer, actor=SYSTEM, now=now),
        "tick": lambda: tick(now=now),
        "book": lambda: actions.book(site=third.site, request=request, actor=SYSTEM, now=now),
    }
    try:
        deeds[what]()
    except Refusal as refusal:
        return refusal.code
    return "done"


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


def main() -> None:
    offer = prepare()
    said = at_once([partial(act, what, offer, minutes) for what, minutes in DEEDS])
    json.dump({"said": said, **look(offer)}, sys.stdout)


if __name__ == "__main__":
    main()
