"""Telling the patient once more what was said already."""

from datetime import datetime

from django.db import transaction

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary import tidings
from clinic.diary.models import COMING, Booking
from clinic.diary.refusals import NotPossibleNow
from clinic.trail.actor import Actor


def send_page_again(*, booking: Booking, user: User, actor: Actor, now: datetime) -> None:
    """The private link to "Before your visit". Raises NotPossibleNow once the visit is over or called off."""
    require(user, Capability.MESSAGES_SEND, booking.site)
    with transaction.atomic():
        rows = Booking.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "patient")
        held = rows.get(pk=booking.pk)
        if held.status not in COMING or held.ends_at <= now:
            raise NotPossibleNow(status=held.get_status_display())
        tidings.page_again(held, actor=actor, now=now)
