"""Giving and taking back the secret address of a calendar: everybody their own, a manager all of the site."""

from datetime import datetime

from django.db import transaction

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary.models import CalendarFeed, Resource
from clinic.diary.refusals import CalendarEnded, NoCalendarOfThis, TooManyCalendars
from clinic.messages.links import hashed, new_secret
from clinic.trail.actor import Actor
from clinic.trail.record import record

# A person's telephone, tablet and computers, each with an address that can be taken back alone.
MOST_OPEN = 10


def make_calendar(
    *, resource: Resource, with_initials: bool, label: str, user: User, actor: Actor, now: datetime
) -> tuple[CalendarFeed, str]:
    """The row and the secret of its address, which is known only now.

    Raises NotAllowed, NoCalendarOfThis, TooManyCalendars.
    """
    _require(user, resource)
    with transaction.atomic():
        # One after the other, so that two at once do not pass the limit together.
        held = Resource.objects.select_for_update(no_key=True, of=("self",)).with_calendar().filter(pk=resource.pk)
        if not held:
            raise NoCalendarOfThis
        if CalendarFeed.objects.filter(resource=resource, revoked_at=None).count() >= MOST_OPEN:
            raise TooManyCalendars(name=resource.name, most=MOST_OPEN)
        secret = new_secret()
        feed = CalendarFeed.objects.create(
            resource=resource,
            label=label,
            with_initials=with_initials,
            token_hash=hashed(secret),
            made_at=now,
            made_by=user,
        )
        _record("diary.calendar_made", feed, actor)
    return feed, secret


def take_back_calendar(*, feed: CalendarFeed, user: User, actor: Actor, now: datetime) -> CalendarFeed:
    """From now on its address opens nothing, and nothing brings it back. Raises NotAllowed, CalendarEnded."""
    _require(user, feed.resource)
    with transaction.atomic():
        open_still = CalendarFeed.objects.filter(pk=feed.pk, revoked_at=None)
        if not open_still.update(revoked_at=now, revoked_by=actor.name):
            raise CalendarEnded
        _record("diary.calendar_taken_back", feed, actor)
    feed.refresh_from_db()
    return feed


def _require(user: User, resource: Resource) -> None:
    is_own = resource.person_id is not None and resource.person_id == user.pk
    require(user, Capability.DIARY_READ if is_own else Capability.SETUP, resource.site)


def _record(verb: str, feed: CalendarFeed, actor: Actor) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("calendar_feed", feed.pk),
        patient_id=None,
        site_id=feed.resource.site_id,
        values={"calendar": feed.resource.name, "used_in": feed.label, "with_initials": feed.with_initials},
    )
