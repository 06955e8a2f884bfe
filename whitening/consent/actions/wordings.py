"""The practice's own words of the consent: written as a new version, taken into use by a press of its own.

What was signed before keeps the words that it was signed with.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.languages import name_of
from clinic.accounts.models import Site, User
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.consent import versions
from whitening.consent.models import OwnWording, WordingUse
from whitening.consent.wording import Fault, Wording, WordingRefused, body, read


class WordingUnknown(Refusal):
    code = "consent.wording_unknown"
    sentence = _("There is no such version of the consent's words.")


class WordingNotKept(Refusal):
    """faults: element, part and sentence of each thing that stands against it."""

    code = "consent.wording_not_kept"
    sentence = _("This wording cannot be kept. %(why)s")

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__(why=" ".join(str(fault.sentence) for fault in faults))


class SameWords(Refusal):
    code = "consent.same_words"
    sentence = _("These are the words of version %(version)s already. Change something, or take that version into use.")


class InUseAlready(Refusal):
    code = "consent.wording_in_use_already"
    sentence = _("This version is in use already.")


class UsedMeanwhile(Refusal):
    code = "consent.wording_used_meanwhile"
    sentence = _(
        "Somebody else took a version into use since you opened this page. Look at what differs from it, then press "
        "again if you still want this one."
    )


class NotChecked(Refusal):
    code = "consent.translation_not_checked"
    sentence = _(
        "Nobody has recorded who checked this translation into %(language)s. Record it beside the version first."
    )


def write_wording(
    *,
    language: str,
    elements: Sequence[Mapping[str, Any]],
    reason: str,
    seen_version: int,
    at: Site,
    user: User,
    actor: Actor,
    now: datetime,
) -> OwnWording:
    """The practice's next version; not in use yet. seen_version: its newest when the page was opened, 0 for none.

    The words are the whole practice's; `at` is the site where the person sets up.
    Raises WordingUnknown, WordingNotKept, SameWords or ChangedMeanwhile.
    """
    require(user, Capability.SETUP, at)
    if language not in dict(settings.LANGUAGES):
        raise WordingUnknown
    wording = _readable(language, elements, reason)
    try:
        with transaction.atomic():
            return _written(wording, seen_version, at, user, actor, now)
    except IntegrityError as error:
        # Two pressed at once: the version stands, and it is the other's.
        if not OwnWording.objects.filter(language=language, version=seen_version + 1).exists():
            raise
        raise ChangedMeanwhile from error


def _readable(language: str, elements: Sequence[Mapping[str, Any]], reason: str) -> Wording:
    """By the same reader as the program's own file."""
    content = {"version": versions.newest_shipped(language), "origin": reason, "element": elements}
    if not reason.strip():
        raise WordingNotKept([Fault(0, "reason", _("Say what was changed, and why."))])
    try:
        return read(language, content)
    except WordingRefused as refused:
        raise WordingNotKept(refused.faults) from refused


def _written(wording: Wording, seen_version: int, at: Site, user: User, actor: Actor, now: datetime) -> OwnWording:
    held = versions.newest_own(wording.language)
    if (held.version if held else 0) != seen_version:
        raise ChangedMeanwhile
    same = versions.with_these_words(wording)
    if same is not None:
        raise SameWords(version=same.version)
    row = OwnWording.objects.create(
        language=wording.language,
        version=seen_version + 1,
        made_over=wording.version,
        body=body(wording.elements),
        sha256=wording.sha256,
        reason=wording.origin,
        written_at=now,
        written_by=user,
    )
    values = {"language": row.language, "version": row.label, "sha256": row.sha256, "reason": row.reason}
    note("consent.wording_written", ("consent_wording", row.pk), at, actor, values)
    return row


def take_into_use(
    *, language: str, label: str, seen_number: int, at: Site, user: User, actor: Actor, now: datetime
) -> WordingUse:
    """From now on patients read and sign these words. seen_number: of the newest such press when the page was opened.

    Raises WordingUnknown, InUseAlready, NotChecked, WordingNotKept (an old version that lacks something by now)
    or UsedMeanwhile.
    """
    require(user, Capability.SETUP, at)
    wording = existing(language, label)
    _read_again(wording)
    try:
        with transaction.atomic():
            before = _may_be_used(wording, seen_number)
            use = WordingUse.objects.create(
                language=language, number=seen_number + 1, label=label, used_since=now, used_by=user
            )
            values = {"language": language, "version": {"from": before, "to": label}}
            note("consent.wording_used", ("consent_wording_use", use.pk), at, actor, values)
    except IntegrityError as error:
        if not WordingUse.objects.filter(language=language, number=seen_number + 1).exists():
            raise
        raise UsedMeanwhile from error
    return use


def _may_be_used(wording: Wording, seen_number: int) -> str:
    """The version in use until now."""
    newest, held = versions.newest_use(wording.language), versions.in_use(wording.language)
    if held is not None and held.version == wording.version:
        raise InUseAlready
    if (newest.number if newest else 0) != seen_number:
        raise UsedMeanwhile
    if not versions.is_checked(wording):
        raise NotChecked(language=name_of(wording.language))
    return held.version if held else ""


def _read_again(wording: Wording) -> None:
    rows = [
        {"number": one.number, "heading": one.heading, "paragraphs": one.paragraphs, "source": one.source}
        for one in wording.elements
    ]
    try:
        read(wording.language, {"version": wording.version, "origin": wording.origin, "element": rows})
    except WordingRefused as refused:
        raise WordingNotKept(refused.faults) from refused


def existing(language: str, label: str) -> Wording:
    """Raises WordingUnknown."""
    wording = versions.version_of(language, label)
    if wording is None:
        raise WordingUnknown
    return wording


def note(verb: str, subject: tuple[str, int], at: Site, actor: Actor, values: Mapping[str, object]) -> None:
    record(verb=verb, actor=actor, subject=subject, patient_id=None, site_id=at.pk, values=dict(values))
