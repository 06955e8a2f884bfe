"""Writing a message out and giving it to its channel."""

import logging
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from django.core.exceptions import ObjectDoesNotExist
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction
from django.template.exceptions import TemplateDoesNotExist, TemplateSyntaxError
from django.urls import NoReverseMatch
from django.utils import timezone

from clinic.accounts.languages import speaking, spoken
from clinic.accounts.models import Site
from clinic.messages import links, own
from clinic.messages.channels import email, text
from clinic.messages.channels.parcel import Fate, Handed, Parcel
from clinic.messages.conditions import Drop, Send
from clinic.messages.letters import Letter, as_mail
from clinic.messages.models import DueMessage, PrivateLink, State, Why
from clinic.messages.wordings.current import names_on_signs
from clinic.messages.wordings.lengths import length_of
from clinic.messages.words import clinical_words
from clinic.patients.models import Purpose

logger = logging.getLogger(__name__)
# A mistake in some part's wording must stop that one message, where a person sees it, and not the sweep.
# Failures of the database or of this machine are not among these: they end the sweep.
WRITING_ERRORS = (
    ArithmeticError,
    AttributeError,
    LookupError,
    TypeError,
    ValueError,
    NoReverseMatch,
    ObjectDoesNotExist,
    TemplateDoesNotExist,
    TemplateSyntaxError,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    parcel: Parcel
    link: PrivateLink | None


def write_out(message: DueMessage, send: Send, *, now: datetime, number: int | None = None) -> Written | Drop | Handed:
    """The link is kept once the letter stands: one that cannot be written leaves no link.

    A short text that is unfit counts as refused, so that the message goes on by another channel.
    """
    try:
        with (
            speaking(send.recipient.language),
            timezone.override(message.site.zone),
            # What is read ahead for a batch is only read; the others may write down what they say, such as a code.
            nullcontext() if send.kind.reading is not None else transaction.atomic(),
        ):
            return _write(message, send, now, number)
    except links.PurposeDone:
        return Drop(state=State.CANCELLED, reason="there is nothing left to open a page for")
    except UnfitWording as unfit:
        if send.channel == "text":
            return Handed(fate=Fate.REFUSED, reason=str(unfit))
        return _failed(send, str(unfit))
    except WRITING_ERRORS:
        logger.exception("Message %s of kind %s could not be written.", message.pk, message.kind)
        return _failed(send, "it could not be written: a mistake in the program")


def _failed(send: Send, reason: str) -> Drop:
    return Drop(state=State.FAILED, reason=reason, why=Why.FAILED if send.kind.becomes_call else None)


class UnfitWording(Exception):
    """The letter breaks a rule that holds for every letter; the text says which."""


def hand_over(written: Written, send: Send, connection: BaseEmailBackend) -> Handed:
    with speaking(send.recipient.language):
        if send.channel == "email":
            return email.hand_over(written.parcel, connection)
        return text.hand_over(written.parcel)


def _write(message: DueMessage, send: Send, now: datetime, number: int | None) -> Written:
    link, url = _link(message, send, now, number)
    with as_mail() if send.channel == "email" else nullcontext():
        letter = send.kind.compose(send.subject, message, url)
    problem = unfit(letter, channel=send.channel, language=spoken(send.recipient.language), site=message.site)
    if problem:
        raise UnfitWording(problem)
    end_link, end_url = _end_link(message, send, now)
    drawn = [one for one in (link, end_link) if one is not None]
    if drawn:
        links.keep(*drawn)
    parcel = Parcel(
        letter=letter,
        recipient=send.recipient,
        site=message.site,
        message_id=message.message_id,
        end_url=end_url,
    )
    return Written(parcel=parcel, link=link)


def _link(message: DueMessage, send: Send, now: datetime, number: int | None) -> tuple[PrivateLink | None, str]:
    spec = send.kind.link
    if spec is None:
        return None, ""
    return links.draw(
        purpose=spec.purpose_for(send.subject),
        subject_id=spec.subject_id(send.subject),
        patient=send.patient,
        site=message.site,
        now=now,
        window=partial(spec.window_for, send.subject, now),
        number=number,
    )


def _end_link(message: DueMessage, send: Send, now: datetime) -> tuple[PrivateLink | None, str]:
    ended_by_click = send.channel == "email" and Purpose(send.kind.purpose) in own.ENDED_BY_ONE_CLICK
    if not ended_by_click or not message.site.can_send_links:
        return None, ""
    return links.draw(purpose=own.END_MESSAGES, subject_id=message.pk, patient=send.patient, site=message.site, now=now)


def unfit(letter: Letter, *, channel: str, language: str, site: Site) -> str:
    """Why this letter may not go out on this channel; "" when it may."""
    if channel == "email":
        return "a clinical word stands in the subject" if _is_clinical(letter.subject, language, site) else ""
    if not letter.sms:
        return "it has no short text"
    length = length_of(letter.sms)
    if length.is_too_long:
        return f"the short text takes more than {length.alphabet.most} parts"
    return "a clinical word stands in the short text" if _is_clinical(letter.sms, language, site) else ""


def _is_clinical(words: str, language: str, site: Site) -> bool:
    """The site's own names are read with the message, perhaps later than those of all signs."""
    if not clinical_words(words, language):
        return False
    names = {site.practice.name, site.name, *names_on_signs()}
    return bool(clinical_words(words, language, except_for=names))
