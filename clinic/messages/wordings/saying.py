"""A message in the words that hold: the practice's own where it wrote some, else the program's."""

import logging
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from django.conf import settings
from django.utils.translation import get_language

from clinic.accounts.languages import speaking
from clinic.messages import kinds
from clinic.messages.kinds import Kind
from clinic.messages.letters import Attachment, Calendar, Letter, has_sms, one_line, tidy, write
from clinic.messages.models import Wording
from clinic.messages.wordings.current import names_on_signs, words_of
from clinic.messages.wordings.faults import Fault, fill, lasting_faults
from clinic.messages.wordings.lengths import length_of
from clinic.messages.wordings.slots import PARTS, Context, OwnWords, Part
from clinic.messages.words import clinical_words
from clinic.patients.models import Channel

logger = logging.getLogger(__name__)


class NoWordsOfItsOwn(LookupError):
    """A programming error: this kind declares no slots."""


def own_words_of(kind: Kind[Any]) -> OwnWords:
    if kind.own_words is None:
        raise NoWordsOfItsOwn(kind.code)
    return kind.own_words


def say(
    code: str, context: Context, *, calendar: Calendar | None = None, attachments: tuple[Attachment, ...] = ()
) -> Letter:
    """In the language that is active now. The program's words are there anyway, should the own ones not fit."""
    kind = kinds.get(code)
    own = own_words_of(kind)
    values = own.values(context)
    letter = write(kind.wording, {**context, **values}, calendar=calendar, attachments=attachments)
    if own.except_when is not None and own.except_when(context):
        return letter
    return in_own_words(letter, kind, values)


def in_own_words(letter: Letter, kind: Kind[Any], values: Mapping[str, str]) -> Letter:
    mail = _standing(kind, Channel.EMAIL)
    if mail is not None:
        letter = _with_mail(letter, mail, values)
    sms = _standing(kind, Channel.TEXT) if has_sms() else None
    return letter if sms is None else _with_sms(letter, sms, values)


def with_mail(letter: Letter, subject: str, text: str, values: Mapping[str, str]) -> Letter:
    return replace(letter, subject=one_line(fill(subject, values)), text=filled_text(text, values))


def filled_text(text: str, values: Mapping[str, str]) -> str:
    """A name that has nothing to say this time leaves no gap behind."""
    return tidy("\n".join(" ".join(line.split()) for line in fill(text, values).split("\n")))


def program_words(kind: Kind[Any]) -> Letter:
    """With the names in braces, in the language that is active now: as somebody would begin to write their own."""
    own = own_words_of(kind)
    return write(kind.wording, {**own.usually, **own.braces()})


def programs(kind: Kind[Any], channel: str, language: str) -> tuple[str, str]:
    """Subject and text as a practice would begin with; a text message has no subject."""
    with speaking(language):
        letter = program_words(kind)
    return ("", letter.sms) if channel == Channel.TEXT else (letter.subject, letter.text.strip())


def faults_now(kind: Kind[Any], row: Wording) -> list[Fault]:
    """Kept under an earlier program or another name of the practice, it may not fit any more."""
    own, texts, names = own_words_of(kind), texts_of(row), names_on_signs()
    return [
        fault
        for part in PARTS[row.channel]
        for fault in lasting_faults(own, part, texts[part], language=row.language, names=names)
    ]


def texts_of(row: Wording) -> dict[Part, str]:
    return {Part.SUBJECT: row.subject, Part.TEXT: row.text, Part.SMS: row.text}


def _standing(kind: Kind[Any], channel: str) -> Wording | None:
    row = words_of(kind.code, channel, get_language() or settings.LANGUAGE_CODE)
    if row is not None and faults_now(kind, row):
        logger.error("The practice's words %s do not fit any more: the program's go out.", row)
        return None
    return row


def _with_mail(letter: Letter, row: Wording, values: Mapping[str, str]) -> Letter:
    """What is filled in may say more than the words themselves."""
    ours = with_mail(letter, row.subject, row.text, values)
    return letter if _is_clinical(row, ours.subject) else ours


def _with_sms(letter: Letter, row: Wording, values: Mapping[str, str]) -> Letter:
    sms = one_line(fill(row.text, values))
    if _is_clinical(row, sms):
        return letter
    if length_of(sms).is_too_long:
        logger.warning("The practice's words %s are too long this time: the program's go out.", row)
        return letter
    return replace(letter, sms=sms)


def _is_clinical(row: Wording, filled: str) -> bool:
    if not clinical_words(filled, row.language, except_for=names_on_signs()):
        return False
    logger.error("The practice's words %s would name something clinical this time: the program's go out.", row)
    return True
