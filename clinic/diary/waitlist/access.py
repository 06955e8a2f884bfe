"""The doors to an entry of the waiting list and to an offer: the row, or 404 without saying whether it exists."""

from django.http import Http404

from clinic.accounts.models import User
from clinic.diary.models import WaitingOffer, WaitingWish


def access_wish(*, user: User, pk: int) -> WaitingWish:
    rows = WaitingWish.objects.visible_to(user).select_related("site", "patient", "visit_type", "person", "booking")
    wish = rows.filter(pk=pk).first()
    if wish is None:
        raise Http404
    return wish


def access_offer(*, user: User, pk: int) -> WaitingOffer:
    rows = WaitingOffer.objects.visible_to(user).select_related("wish__site", "wish__patient", "booking")
    offer = rows.filter(pk=pk).first()
    if offer is None:
        raise Http404
    return offer
