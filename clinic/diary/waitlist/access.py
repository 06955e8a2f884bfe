"""The doors to an entry of the waiting list and to an offer."""

from clinic.accounts.access import one_of
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from clinic.diary.models import WaitingOffer, WaitingWish


def access_wish(*, user: User, pk: int, to: Capability) -> WaitingWish:
    rows = WaitingWish.objects.visible_to(user).select_related("site", "patient", "visit_type", "person", "booking")
    return one_of(rows, user=user, pk=pk, to=to)


def access_offer(*, user: User, pk: int, to: Capability) -> WaitingOffer:
    rows = WaitingOffer.objects.visible_to(user).select_related("wish__site", "wish__patient", "booking")
    return one_of(rows, user=user, pk=pk, to=to, site="wish.site")
