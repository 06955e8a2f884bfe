"""Messages that did not go the usual way, and that nobody has seen to yet."""

from django.db.models import Exists, F, OuterRef, QuerySet

from clinic.accounts.models import User
from clinic.messages import kinds
from clinic.messages.actions.planning import NEXT_TRY
from clinic.messages.models import ASTRAY, DueMessage


def astray(user: User) -> QuerySet[DueMessage]:
    """Newest first. One that became a call stands among the calls; one that was sent again has a step of its own.

    Codes and new links are left out: whoever asked for one is sitting there and asks again.
    """
    seen = [code for code, kind in kinds.registered().items() if not kind.despite_choices]
    again = DueMessage.objects.filter(
        subject_kind=OuterRef("subject_kind"),
        subject_id=OuterRef("subject_id"),
        kind=OuterRef("kind"),
        version=OuterRef("version"),
        step=OuterRef("step") + NEXT_TRY,
    )
    rows = DueMessage.objects.filter(state__in=ASTRAY, site__in=user.memberships.values("site"), kind__in=seen)
    left = rows.filter(call=None, patient__died_on=None).exclude(Exists(again))
    return left.select_related("patient", "site").order_by(F("settled_at").desc(nulls_last=True), "-pk")
