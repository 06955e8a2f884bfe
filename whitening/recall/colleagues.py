"""What colleagues are told about a worrying answer: at once, and once more while nobody has taken it."""

from datetime import timedelta

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rota import on_call_at
from clinic.messages import kinds, subjects
from clinic.messages.actions.planning import NEXT_TRY
from clinic.messages.kinds import Kind, Recipient, Wanted
from clinic.messages.letters import Letter, write
from clinic.messages.models import DueMessage
from clinic.patients.models import Purpose
from whitening.recall.actions.raising import RAISED_AGAIN
from whitening.recall.actions.replying import BY_TEXT, ON_CALL_ALERT, gets_texts
from whitening.recall.models import Escalation, Raising


def register() -> None:
    subjects.register("escalation", Escalation, patient="case__patient")
    subjects.register("raising", Raising, patient="escalation__case__patient")
    kinds.register(
        Kind(
            code=ON_CALL_ALERT,
            label=_("word to the person on call"),
            purpose=Purpose.SAFETY,
            subject_kind="escalation",
            load=lambda pk: Escalation.objects.select_related("case__site", "owner").filter(pk=pk).first(),
            still_wanted=lambda escalation, message, now: _untaken(escalation),
            compose=_alert,
            wording=f"recall/messages/{ON_CALL_ALERT}",
            lasts=timedelta(days=1),
            safety=False,
            # At any hour: a worrying answer does not wait for the morning.
            on_request=True,
            recipient=_on_call,
        )
    )
    kinds.register(
        Kind(
            code=RAISED_AGAIN,
            label=_("once more: an answer that nobody has taken"),
            purpose=Purpose.SAFETY,
            subject_kind="raising",
            load=lambda pk: _raisings().filter(pk=pk).first(),
            still_wanted=lambda raised, message, now: _untaken(raised.escalation),
            compose=_raised_again,
            wording=f"recall/messages/{RAISED_AGAIN}",
            lasts=timedelta(days=1),
            safety=False,
            on_request=True,
            recipient=lambda raised, message: _colleague(raised.person, message),
        )
    )


def _raisings() -> QuerySet[Raising]:
    return Raising.objects.select_related("escalation__case__site", "person")


def _untaken(escalation: Escalation) -> Wanted:
    if escalation.closed_at is not None:
        return "settled already"
    return True if escalation.taken_at is None else "taken already"


def _alert(escalation: Escalation, message: DueMessage, link_url: str) -> Letter:
    context = {"site": escalation.case.site, "due_at": escalation.due_at, "path": reverse("today")}
    return write(f"recall/messages/{ON_CALL_ALERT}", context)


def _raised_again(raised: Raising, message: DueMessage, link_url: str) -> Letter:
    escalation = raised.escalation
    context = {"site": escalation.case.site, "said_at": escalation.raised_at, "due_at": escalation.due_at}
    return write(f"recall/messages/{RAISED_AGAIN}", context)


def _on_call(escalation: Escalation, message: DueMessage) -> Recipient | None:
    person = escalation.owner or on_call_at(escalation.case.site, message.due_at)
    if person is None:
        return None
    return _colleague(person, message)


def _colleague(person: User, message: DueMessage) -> Recipient | None:
    """Somebody who has left the practice meanwhile is told nothing. The text goes beside the mail, never instead."""
    if not person.is_active:
        return None
    as_text = message.step % NEXT_TRY == BY_TEXT
    if as_text and not gets_texts(person):
        return None
    phone = person.phone.as_e164 if as_text else ""
    return Recipient(name=person.name, email="" if as_text else person.email, phone=phone, language=person.language)
