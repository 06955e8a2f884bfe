"""Recording who checked a translation of the consent: until then nobody signs in that language."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
from clinic.trail.refusals import Refusal
from whitening.consent import versions
from whitening.consent.actions.wordings import existing, note
from whitening.consent.models import TranslationCheck


class NoTranslation(Refusal):
    code = "consent.no_translation"
    sentence = _("This is the language that others are translated from. There is no translation to check.")


class CheckIncomplete(Refusal):
    code = "consent.check_incomplete"
    sentence = _("Say who checked it, with which qualification, and on which day; a day that has come.")


class CheckedTooEarly(Refusal):
    code = "consent.checked_too_early"
    sentence = _("These words were written on %(day)s. Nobody can have checked them before that day.")


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckDetails:
    name: str
    qualification: str
    checked_on: date


def record_check(
    *, language: str, label: str, details: CheckDetails, at: Site, user: User, actor: Actor, now: datetime
) -> TranslationCheck:
    """Who checked the very words of this version. Raises WordingUnknown, NoTranslation,
    CheckIncomplete or CheckedTooEarly.
    """
    require(user, Capability.SETUP, at)
    wording = existing(language, label)
    if not versions.is_translation(language):
        raise NoTranslation
    name, qualification = details.name.strip(), details.qualification.strip()
    if not name or not qualification or details.checked_on > now.astimezone(at.zone).date():
        raise CheckIncomplete
    own = versions.own_of(language, label)
    if own is not None and details.checked_on < own.written_at.astimezone(at.zone).date():
        raise CheckedTooEarly(day=day_words(own.written_at, at.zone))
    with transaction.atomic():
        row = TranslationCheck.objects.create(
            language=language,
            label=label,
            sha256=wording.sha256,
            name=name,
            qualification=qualification,
            checked_on=details.checked_on,
            recorded_at=now,
            recorded_by=user,
        )
        values = {"language": language, "version": label, "sha256": row.sha256, "name": name}
        values |= {"qualification": qualification, "checked_on": details.checked_on.isoformat()}
        note("consent.translation_checked", ("translation_check", row.pk), at, actor, values)
    return row
