"""The kinds and purposes that belong to no other part: the code, the new link, the preferences page, one-click ends."""

from dataclasses import replace
from datetime import datetime, timedelta

from django.utils.translation import gettext_lazy as _

from clinic.messages import kinds, purposes, subjects, visits
from clinic.messages.letters import Letter, write
from clinic.messages.models import DueMessage, Ended, LinkVisit, PrivateLink
from clinic.messages.wordings import given
from clinic.messages.wordings.saying import say
from clinic.messages.wordings.slots import OwnWords
from clinic.patients.models import Patient, Purpose
from clinic.trail.clock import real_now

VISIT, LINK, MESSAGE, PATIENT = "link_visit", "private_link", "message", "patient"
CODE, NEW_LINK = "code", "new_link"
END_MESSAGES, PREFERENCES = "end_messages", "preferences"
# An old message may still lie in a mailbox for long; the link in it only ever says no.
END_LINK_LASTS = timedelta(days=400)
PREFERENCES_LAST = timedelta(days=30)
# Whoever got five dates of birth wrong is not sent another page by asking; the practice has to do it.
NOT_RENEWED = {Ended.BIRTH_TRIES, Ended.TAKEN_BACK, Ended.DONE}
# These may carry one click to end them (RFC 8058). Appointments and safety are ended on the preferences page.
ENDED_BY_ONE_CLICK = {Purpose.RECALL, Purpose.COLOUR}
# Whoever asked for a new link knows the practice, and perhaps not the site.
_WHOLE_PRACTICE = replace(
    given.PRACTICE,
    says=_("the name of the practice"),
    of=lambda context: str(context["site"].practice.name),
    example=lambda site: site.practice.name,
)


def register() -> None:
    subjects.register(PATIENT, Patient, patient="pk")
    subjects.register(MESSAGE, DueMessage, patient="patient")
    subjects.register(LINK, PrivateLink, patient="patient")
    subjects.register(VISIT, LinkVisit, patient="link__patient")
    purposes.register(
        purposes.LinkPurpose(
            code=END_MESSAGES,
            title=_("No more messages of this kind"),
            subject_kind=MESSAGE,
            landing="private_end",
            route="private_end",
            window=lambda _pk, now: purposes.Window(opens_at=now, closes_at=now + END_LINK_LASTS),
        )
    )
    purposes.register(
        purposes.LinkPurpose(
            code=PREFERENCES,
            title=_("Message preferences"),
            subject_kind=PATIENT,
            landing="preferences",
            window=_preferences_window,
        )
    )
    kinds.register(
        kinds.Kind[LinkVisit](
            code=CODE,
            label=_("code for a private page"),
            purpose=Purpose.SAFETY,
            subject_kind=VISIT,
            load=lambda pk: LinkVisit.objects.select_related("link__site__practice").filter(pk=pk).first(),
            still_wanted=lambda visit, _message, _now: visit.code_passed_at is None and visit.expires_at > real_now(),
            compose=_compose_code,
            wording="messages/wordings/code",
            lasts=visits.CODE_LASTS,
            on_request=True,
            despite_choices=True,
        )
    )
    kinds.register(
        kinds.Kind[PrivateLink](
            code=NEW_LINK,
            label=_("new link"),
            purpose=Purpose.APPOINTMENT,
            subject_kind=LINK,
            load=lambda pk: PrivateLink.objects.select_related("site__practice").filter(pk=pk).first(),
            still_wanted=lambda link, _message, now: may_renew(link, now),
            compose=_compose_new_link,
            wording="messages/wordings/new_link",
            own_words=OwnWords(slots=(_WHOLE_PRACTICE, given.NUMBER, given.LINK)),
            lasts=timedelta(hours=2),
            link=kinds.LinkSpec(purpose=lambda link: link.purpose, subject_id=lambda link: link.subject_id),
            on_request=True,
            despite_choices=True,
        )
    )


def may_renew(link: PrivateLink, now: datetime) -> bool:
    """A newer page for the same thing may be sent: its purpose still stands, and nobody guessed at it."""
    if link.write_only or link.ended_because in NOT_RENEWED:
        return False
    window = purposes.get(link.purpose).window(link.subject_id, now)
    return window is not None and window.closes_at > now


def purpose_of(message: DueMessage) -> str:
    return kinds.get(message.kind).purpose


def _preferences_window(patient_id: int, now: datetime) -> purposes.Window | None:
    """Of a record that was joined with another: as long as the person lives. The page shows what holds for them."""
    found = Patient.objects.filter(pk=patient_id).select_related("merged_into").first()
    alive = found is not None and (found.merged_into or found).died_on is None
    return purposes.Window(opens_at=now, closes_at=now + PREFERENCES_LAST) if alive else None


def _compose_code(visit: LinkVisit, message: DueMessage, _link_url: str) -> Letter:
    code = visits.new_code(visit=visit, real_now=real_now())
    context = {"code": code, "site": visit.link.site, "minutes": visits.CODE_LASTS // timedelta(minutes=1)}
    return write("messages/wordings/code", context)


def _compose_new_link(link: PrivateLink, message: DueMessage, link_url: str) -> Letter:
    return say(NEW_LINK, {"site": link.site, "link_url": link_url})
