"""A practice says whether replies to texts reach it: until then none goes out where local law wants that."""

from datetime import datetime

from django.db import IntegrityError, transaction

from clinic.accounts.models import Site, User
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability, require
from clinic.messages.models import ReplyRule, TextReplies
from clinic.trail.actor import Actor
from clinic.trail.record import record


def say_replies(
    *, site: Site, rule: ReplyRule, number: str, seen_version: int, user: User, actor: Actor, now: datetime
) -> TextReplies:
    """Raises ChangedMeanwhile when somebody else has said something since the page was opened."""
    require(user, Capability.SETUP, site)
    try:
        with transaction.atomic():
            held = TextReplies.objects.select_for_update(of=("self",)).filter(site=site).first()
            if (held.version if held else 0) != seen_version:
                raise ChangedMeanwhile
            row = held or TextReplies(site=site, version=0)
            row.rule, row.number, row.said_at, row.said_by = rule, number, now, actor.name[:120]
            row.version += 1
            row.save()
            record(
                verb="messages.replies_said",
                actor=actor,
                subject=("site", site.pk),
                patient_id=None,
                site_id=site.pk,
                values={"rule": str(rule), "number": number},
            )
    except IntegrityError as error:
        # Two managers said it for the first time at one moment.
        raise ChangedMeanwhile from error
    return row
