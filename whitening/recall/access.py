"""The doors to a follow-up and to a worrying answer."""

from clinic.accounts.access import one_of
from clinic.accounts.models import User
from clinic.accounts.rights import Capability
from whitening.recall.models import Escalation, FollowUp


def access_follow_up(*, user: User, pk: int, to: Capability) -> FollowUp:
    rows = FollowUp.objects.visible_to(user).select_related("case__site", "site")
    return one_of(rows, user=user, pk=pk, to=to)


def access_escalation(*, user: User, pk: int, to: Capability) -> Escalation:
    related = ("case__site", "case__patient", "reply__case__site", "reply__case__patient", "owner")
    rows = Escalation.objects.visible_to(user).select_related(*related)
    return one_of(rows, user=user, pk=pk, to=to, site="case.site")
