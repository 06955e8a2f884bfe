"""The message with an offer, and the purpose of its private link."""

from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _

from clinic.diary import message_slots
from clinic.diary.models import Answer, Status, WaitingOffer
from clinic.diary.waitlist.noting import OFFER
from clinic.messages import kinds, purposes, subjects
from clinic.messages.letters import Letter
from clinic.messages.models import DueMessage
from clinic.messages.wordings.saying import say
from clinic.patients.models import Purpose

# So long after the time to answer its page still says what became of it.
AFTERWARDS = timedelta(hours=2)


def register() -> None:
    subjects.register(OFFER, WaitingOffer, patient="wish__patient")
    purposes.register(
        purposes.LinkPurpose(
            code=OFFER, title=_("A time is free"), subject_kind=OFFER, landing="waitlist_page", window=_window
        )
    )
    kinds.register(
        kinds.Kind[WaitingOffer](
            code=OFFER,
            label=_("waiting-list offer"),
            purpose=Purpose.APPOINTMENT,
            subject_kind=OFFER,
            load=load,
            still_wanted=_still_open,
            compose=_compose,
            wording="diary/messages/waitlist_offer",
            lasts=timedelta(minutes=30),
            link=kinds.LinkSpec(purpose=OFFER, subject_id=lambda offer: offer.pk),
            urgent=True,
            own_words=message_slots.OFFER,
        )
    )


def load(pk: int) -> WaitingOffer | None:
    related = ("wish__site", "wish__patient", "wish__booking", "wish__visit_type", "booking__visit_type")
    return WaitingOffer.objects.select_related(*related).filter(pk=pk).first()


def is_open(offer: WaitingOffer, now: datetime) -> bool:
    return offer.answer == Answer.OPEN and offer.answer_by > now and offer.booking.status == Status.PENDING


def _window(pk: int, now: datetime) -> purposes.Window | None:
    offer = load(pk)
    if offer is None or not is_open(offer, now):
        return None
    return purposes.Window(opens_at=now, closes_at=offer.answer_by + AFTERWARDS)


def _still_open(offer: WaitingOffer, message: DueMessage, now: datetime) -> kinds.Wanted:
    return True if is_open(offer, now) else "not on offer any more"


def _compose(offer: WaitingOffer, message: DueMessage, link_url: str) -> Letter:
    wish = offer.wish
    context = {"offer": offer, "site": wish.site, "patient": wish.patient, "instead": wish.booking}
    booking = offer.booking
    return say(OFFER, context | {"booking": booking, "visit_type": booking.visit_type, "link_url": link_url})
