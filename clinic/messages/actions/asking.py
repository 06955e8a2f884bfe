"""What a patient asks for on a private page: a code, a new link, no more messages of a kind."""

from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.messages import links, own, visits
from clinic.messages.actions.choosing import stop_unwanted
from clinic.messages.actions.planning import plan
from clinic.messages.models import DueMessage, Ended, LinkVisit, PrivateLink
from clinic.patients.actions import choose_contact
from clinic.patients.models import Purpose
from clinic.patients.person import hold_person
from clinic.trail.record import record

# A new link per old one: not more often than this, and not more than so many in a day.
NEW_LINK_PAUSE = timedelta(minutes=10)
NEW_LINKS_A_DAY = 3
END_WORDING = _("No more messages of this kind")


def ask_code(*, visit: LinkVisit, now: datetime, real_now: datetime) -> DueMessage:
    """Raises TooManyCodes. The caller hands the message over at once, after the commit."""
    with transaction.atomic():
        held = hold_person(visit.link.patient)
        which = visits.count_code_request(visit=visit, real_now=real_now)
        return plan(
            kind=own.CODE,
            subject=(own.VISIT, visit.pk),
            version=which,
            patient=held,
            site=visit.link.site,
            due_at=now,
            not_after=now + visits.CODE_LASTS,
            actor=visits.patient_actor(visit.link),
            now=now,
        )


def ask_new_link(*, link: PrivateLink | None, now: datetime) -> DueMessage | None:
    """Goes to the known channel only. None (never told to the asker) when it may not or need not be sent."""
    if link is None or not own.may_renew(link, now):
        return None
    with transaction.atomic():
        # Two clicks at once plan one message: the second waits here.
        held = hold_person(link.patient)
        rows = DueMessage.objects.about((own.LINK, link.pk)).filter(kind=own.NEW_LINK)
        if _too_often([row.planned_at for row in rows], now):
            return None
        message = plan(
            kind=own.NEW_LINK,
            subject=(own.LINK, link.pk),
            version=len(rows) + 1,
            patient=held,
            site=link.site,
            due_at=now,
            actor=visits.patient_actor(link),
            now=now,
        )
        _note_asked(link)
    return message


def end_messages(*, link: PrivateLink, now: datetime) -> None:
    """One click in an e-mail: no more messages of the purpose that this link was made for."""
    row = DueMessage.objects.get(pk=link.subject_id)
    purpose = own.purpose_of(row)
    with transaction.atomic():
        # The person before what waits for them, and the one that is kept: what holds is asked of that record.
        held = hold_person(link.patient)
        choose_contact(
            patient=held,
            choices={Purpose(purpose): False},
            wordings={Purpose(purpose): str(END_WORDING)},
            actor=visits.patient_actor(link),
            now=now,
        )
        stop_unwanted(patient=held, actor=visits.patient_actor(link), now=now)
        links.end_link(link, because=Ended.DONE, now=now, actor=visits.patient_actor(link))


def _too_often(asked_at: list[datetime], now: datetime) -> bool:
    today = [at for at in asked_at if at > now - timedelta(days=1)]
    return len(today) >= NEW_LINKS_A_DAY or any(at > now - NEW_LINK_PAUSE for at in today)


def _note_asked(link: PrivateLink) -> None:
    record(
        verb="messages.new_link_asked",
        actor=visits.patient_actor(link),
        subject=("private_link", link.pk),
        patient_id=link.patient_id,
        site_id=link.site_id,
        values={"purpose": link.purpose},
    )
