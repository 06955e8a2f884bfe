"""The doors to a session and to a batch."""

from clinic.accounts.access import one_of
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from whitening.chairside.models import Batch, Session


def access_session(*, user: User, pk: int, to: Capability) -> Session:
    rows = Session.objects.visible_to(user).select_related("site", "case__site", "case__patient", "plan__product")
    return one_of(rows, user=user, pk=pk, to=to)


def access_closed_session(*, user: User, pk: int, to: Capability) -> Session:
    """One that can be looked back on."""
    rows = Session.objects.visible_to(user).exclude(closed_at=None)
    return one_of(rows.select_related("site", "case__site", "case__patient", "closed_by"), user=user, pk=pk, to=to)


def access_batch(*, user: User, pk: int, to: Capability) -> Batch:
    return one_of(Batch.objects.visible_to(user).select_related("site", "product"), user=user, pk=pk, to=to)
