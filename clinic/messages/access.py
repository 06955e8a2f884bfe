"""The doors to a message, and to a call that stands in for one."""

from clinic.accounts.access import one_of
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from clinic.messages.models import Call, DueMessage, LetterBatch


def access_call(*, user: User, pk: int, to: Capability) -> Call:
    return one_of(Call.objects.visible_to(user).select_related("site", "message"), user=user, pk=pk, to=to)


def access_message(*, user: User, pk: int, to: Capability) -> DueMessage:
    return one_of(DueMessage.objects.visible_to(user).select_related("site"), user=user, pk=pk, to=to)


def access_batch(*, user: User, pk: int, to: Capability) -> LetterBatch:
    rows = LetterBatch.objects.visible_to(user).select_related("site__practice")
    return one_of(rows, user=user, pk=pk, to=to)
