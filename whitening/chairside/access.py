"""The doors to a session and to a batch: the row, or 404 without saying whether it exists elsewhere."""

from django.http import Http404

from clinic.accounts.models import User
from whitening.chairside.models import Batch, Session


def access_session(*, user: User, pk: int) -> Session:
    rows = Session.objects.visible_to(user).select_related("site", "case__site", "case__patient", "plan__product")
    session = rows.filter(pk=pk).first()
    if session is None:
        raise Http404
    return session


def access_batch(*, user: User, pk: int) -> Batch:
    batch = Batch.objects.visible_to(user).select_related("site", "product").filter(pk=pk).first()
    if batch is None:
        raise Http404
    return batch
