"""The patient's page of one offered time: yes, no thanks, or off the list."""

from django.http import Http404, HttpResponse
from django.shortcuts import render

from clinic.diary.models import MOVABLE, Answer, Booking, WaitingOffer
from clinic.diary.refusals import OfferEnded
from clinic.diary.selfservice.words import NOT_DONE
from clinic.diary.waitlist import answering, kinds
from clinic.diary.waitlist.noting import OFFER
from clinic.messages.doors import PatientRequest, patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

OPEN, BOOKED, DECLINED, LEFT, GONE = "open", "booked", "declined", "left", "gone"
ANSWERS = {"yes", "no", "leave"}
_ANSWERED = {Answer.YES: BOOKED, Answer.NO: DECLINED, Answer.LEFT: LEFT}


# Whoever loads the page again after the answer, which ended the link, reads what they answered.
@patient(OFFER, methods=("GET", "POST"), done_ok=True)
def page(request: PatientRequest) -> HttpResponse:
    offer = kinds.load(request.link.subject_id)
    # A merged row's entries belong to the row it went into.
    if offer is None or request.patient.pk not in {offer.wish.patient_id, offer.wish.patient.merged_into_id}:
        raise Http404
    if request.method == "POST" and request.POST.get("answer") in ANSWERS:
        return _answer(request, offer)
    return _page(request, offer, _state(offer))


def _state(offer: WaitingOffer) -> str:
    if kinds.is_open(offer, now()):
        return OPEN
    state = _ANSWERED.get(Answer(offer.answer), GONE)
    return state if state != BOOKED or _visit_of(offer).status in MOVABLE else GONE


def _visit_of(offer: WaitingOffer) -> Booking:
    """What the answer was about: the visit that moved to the time, or the time itself."""
    return offer.wish.booking or offer.booking


def _answer(request: PatientRequest, offer: WaitingOffer) -> HttpResponse:
    """The link ends with the answer, so what came of it is said here and not on another page."""
    said, who, at = request.POST["answer"], request.actor, now()
    try:
        if said == "yes":
            booking = answering.accept(offer=offer, actor=who, now=at)
            return _page(request, offer, BOOKED, booking=booking)
        answering.decline(offer=offer, actor=who, now=at, leave=said == "leave")
    except OfferEnded:
        # Read again: it may be their own answer that ended it, given a moment ago.
        ended = kinds.load(offer.pk) or offer
        return _page(request, ended, _state(ended), status=409)
    except Refusal:
        # Its words are the desk's, and may name what a visit is for.
        return _page(request, offer, OPEN, error=str(NOT_DONE), status=409)
    return _page(request, offer, LEFT if said == "leave" else DECLINED)


def _page(
    request: PatientRequest,
    offer: WaitingOffer,
    state: str,
    *,
    booking: Booking | None = None,
    error: str = "",
    status: int = 200,
) -> HttpResponse:
    instead = offer.wish.booking
    context = {
        "offer": offer,
        "instead": instead,
        "stays": instead is not None and instead.status in MOVABLE,
        "booking": booking or (_visit_of(offer) if state == BOOKED else offer.booking),
        "state": state,
        "error": error,
        "site": request.site,
    }
    return render(request, "diary/waitlist/offer.html", context, status=status)
