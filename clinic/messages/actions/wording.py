"""The practice's own words of a message: the next version holds at once, and every version stays."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.languages import speaking
from clinic.accounts.models import Site, User
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability, require
from clinic.messages import kinds
from clinic.messages.kinds import Kind
from clinic.messages.models import Wording
from clinic.messages.models.wordings import WordingQuerySet
from clinic.messages.wordings.current import names_on_signs, newest_of
from clinic.messages.wordings.faults import Fault, faults_of
from clinic.messages.wordings.saying import own_words_of, programs
from clinic.messages.wordings.slots import PARTS, Part
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal


class NoOwnWords(Refusal):
    code = "messages.no_own_words"
    sentence = _("A practice writes no words of its own for this message.")


class WordsNotKept(Refusal):
    """faults: part and sentence of each thing that stands against them."""

    code = "messages.words_not_kept"
    sentence = _("These words cannot be kept. %(why)s")

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(why=" ".join(fault.sentence for fault in faults))


class SameWords(Refusal):
    code = "messages.same_words"
    sentence = _("These words hold already. Change something first.")


class ProgramsWords(Refusal):
    code = "messages.programs_words"
    sentence = _(
        "These are the program’s own words. Change something first; the way back to them is “Use the program’s words "
        "again”."
    )


class ProgramsWordsAlready(Refusal):
    code = "messages.programs_words_already"
    sentence = _("The program’s words hold already.")


class Which(NamedTuple):
    """One kind of message, on one channel, in one language."""

    kind: str
    channel: str
    language: str


def check_words(kind: Kind[Any], which: Which, *, subject: str, text: str) -> None:
    """Raises WordsNotKept with everything that stands against them, read with each site's name and number."""
    own, sites = own_words_of(kind), list(Site.objects.select_related("practice"))
    with speaking(which.language):
        examples = [own.examples(site) for site in sites]
    names, written = names_on_signs(), {Part.SUBJECT: subject, Part.TEXT: text, Part.SMS: text}
    faults = [
        fault
        for part in PARTS[which.channel]
        for fault in faults_of(own, part, written[part], language=which.language, names=names, examples=examples)
    ]
    if faults:
        raise WordsNotKept(faults)


def write_words(
    *,
    which: Which,
    subject: str = "",
    text: str,
    seen_number: int,
    at: Site,
    user: User,
    actor: Actor,
    now: datetime,
) -> Wording:
    """The next version, and what goes out from the next message on. seen_number: the newest when the page was opened.

    Raises NoOwnWords, WordsNotKept, SameWords, ProgramsWords or ChangedMeanwhile.
    """
    require(user, Capability.SETUP, at)
    known = editable(which)
    check_words(known, which, subject=subject, text=text)
    row = Wording(**which._asdict(), subject=subject, text=text)
    return _next(row, known, seen_number, "messages.words_written", at, user, actor, now)


def back_to_program(*, which: Which, seen_number: int, at: Site, user: User, actor: Actor, now: datetime) -> Wording:
    """The own words stay readable. Raises NoOwnWords, ProgramsWordsAlready or ChangedMeanwhile."""
    require(user, Capability.SETUP, at)
    known = editable(which)
    row = Wording(**which._asdict())
    return _next(row, known, seen_number, "messages.words_given_up", at, user, actor, now)


def editable(which: Which) -> Kind[Any]:
    known = kinds.registered().get(which.kind)
    if known is None or known.own_words is None:
        raise NoOwnWords
    if which.channel not in PARTS or which.language not in dict(settings.LANGUAGES):
        raise NoOwnWords
    return known


def _next(
    row: Wording, kind: Kind[Any], seen_number: int, verb: str, at: Site, user: User, actor: Actor, now: datetime
) -> Wording:
    row.number, row.written_at, row.written_by = seen_number + 1, now, user
    try:
        with transaction.atomic():
            _must_change_something(row, kind, seen_number)
            row.save(force_insert=True)
            _note(row, verb, at, actor)
    except IntegrityError as error:
        # Two pressed at once: the version stands, and it is the other's.
        if not _alike(row).filter(number=row.number).exists():
            raise
        raise ChangedMeanwhile from error
    return row


def _must_change_something(row: Wording, kind: Kind[Any], seen_number: int) -> None:
    held = newest_of(row.kind, row.channel, row.language)
    if (held.number if held else 0) != seen_number:
        raise ChangedMeanwhile
    if not row.text and (held is None or not held.text):
        raise ProgramsWordsAlready
    if held is not None and (held.subject, held.text) == (row.subject, row.text):
        raise SameWords
    if row.text and (row.subject, row.text) == programs(kind, row.channel, row.language):
        raise ProgramsWords


def _alike(row: Wording) -> WordingQuerySet:
    return Wording.objects.filter(kind=row.kind, channel=row.channel, language=row.language)


def _note(row: Wording, verb: str, at: Site, actor: Actor) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("message_wording", row.pk),
        patient_id=None,
        site_id=at.pk,
        values={
            "kind": row.kind,
            "channel": row.channel,
            "language": row.language,
            "number": row.number,
            "subject": row.subject,
            "text": row.text,
        },
    )
