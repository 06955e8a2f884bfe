"""Which version of the consent's words is in use, whether it may be signed in its language, and all there ever were."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings

from clinic.accounts.languages import is_same, is_spoken, spoken
from whitening.consent.models import ConsentText, OwnWording, TranslationCheck, WordingUse
from whitening.consent.models.wordings import LANGUAGE_LENGTH
from whitening.consent.periods import Period, periods, since_checked
from whitening.consent.wording import Wording, elements_of, shipped


def in_use(language: str) -> Wording | None:
    """What the practice took into use last; until it did, the newest that the program brings. One query or two."""
    use = newest_use(language)
    if use is not None:
        return version_of(language, use.label)
    came = shipped().get(language)
    return came[-1] if came else None


def newest_use(language: str) -> WordingUse | None:
    return WordingUse.objects.filter(language=language).order_by("number").last()


def newest_own(language: str) -> OwnWording | None:
    return OwnWording.objects.filter(language=language).select_related("written_by").order_by("version").last()


def version_of(language: str, label: str) -> Wording | None:
    """Any version there ever was, by the label that a consent keeps."""
    if "." not in label:
        return next((one for one in shipped().get(language, ()) if one.version == label), None)
    row = own_of(language, label)
    return None if row is None else as_wording(row)


def own_of(language: str, label: str) -> OwnWording | None:
    """The practice's own version of that label; None of one that the program brought."""
    made_over, _point, own = label.partition(".")
    if not (own.isascii() and own.isdecimal() and len(own) < 9):
        return None
    return OwnWording.objects.filter(language=language, version=int(own), made_over=made_over).first()


def as_wording(row: OwnWording) -> Wording:
    """Not through the reader: what once passed it stays readable, whatever a later program asks for."""
    return Wording(row.language, row.label, row.reason, elements_of(row.body))


def by_mark(mark: str) -> Wording | None:
    """The version whose mark was typed from a printed form; None where nothing here ever bore it."""
    typed = "".join(mark.split()).lower()
    language, _dash, rest = typed.rpartition("-")[0].rpartition("-")
    wording = version_of(language, rest) if len(language) <= LANGUAGE_LENGTH else None
    return wording if wording is not None and wording.mark.lower() == typed else None


def mark_of(text: ConsentText) -> str:
    """Of the words that one consent was made from."""
    wording = version_of(text.language, text.wording)
    return wording.mark if wording else f"{text.language}-{text.wording}"


def was_in_use(wording: Wording, *, before: datetime) -> bool:
    """At some time up to then. What came with the program counts until the practice used its own."""
    uses = WordingUse.objects.filter(language=wording.language).order_by("number")
    if uses.filter(label=wording.version, used_since__lt=before).exists():
        return True
    made_over, _point, own = wording.version.partition(".")
    first = uses.first()
    return not own and (first is None or int(made_over) <= int(first.label.partition(".")[0]))


def newest_shipped(language: str) -> str:
    """The version that an own one is made over: in a language without words of the program, of those to translate."""
    return (shipped().get(language) or shipped()[settings.LANGUAGE_CODE])[-1].version


def with_these_words(wording: Wording) -> Wording | None:
    """A version that says the same already; also what a translator began with and has not changed."""
    digest = wording.sha256
    known = (*shipped().get(wording.language, ()), *shipped()[settings.LANGUAGE_CODE])
    came = next((one for one in known if one.sha256 == digest), None)
    if came is not None:
        return came
    row = OwnWording.objects.filter(language=wording.language, sha256=digest).first()
    return None if row is None else as_wording(row)


def is_behind(wording: Wording) -> bool:
    """The program brought newer words since this version was made. Never in a language without words of its own."""
    return wording.language in shipped() and wording.version.partition(".")[0] != newest_shipped(wording.language)


def is_translation(language: str) -> bool:
    """The program's own language is what others are translated from: whoever writes there answers for the words."""
    return not is_same(language, settings.LANGUAGE_CODE)


def is_checked(wording: Wording) -> bool:
    if not is_translation(wording.language):
        return True
    return TranslationCheck.objects.filter(language=wording.language, sha256=wording.sha256).exists()


def may_be_signed_in(language: str) -> bool:
    """The program speaks it whole, words are in use, and somebody is recorded who checked these very words."""
    if not is_translation(language):
        return True
    if not is_spoken(language):
        return False
    wording = in_use(language)
    return wording is not None and is_checked(wording)


def signable(language: str) -> str:
    """The language in which this patient's consent is shown, signed and kept."""
    code = offered(language)
    return code if code and may_be_signed_in(code) else settings.LANGUAGE_CODE


def offered(language: str) -> str:
    """The patient's own language where the program speaks it and has words for it, checked or not; else nothing."""
    code = spoken(language)
    return code if is_translation(code) and in_use(code) is not None else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One version for the list: own is None for the program's. uses, checks and periods: the newest first."""

    wording: Wording
    own: OwnWording | None
    uses: Sequence[WordingUse]
    checks: Sequence[TranslationCheck]
    periods: Sequence[Period]
    is_in_use: bool

    @property
    def used_since(self) -> datetime | None:
        """None where nothing here tells when it came."""
        return self.periods[0].since if self.periods else None

    @property
    def is_checked(self) -> bool:
        return bool(self.checks) or not is_translation(self.wording.language)


def all_versions(language: str) -> list[Version]:
    """The newest first, the practice's own before the program's. Five queries, however many there are."""
    own = {row.label: row for row in OwnWording.objects.filter(language=language).select_related("written_by")}
    words = [as_wording(row) for row in sorted(own.values(), key=lambda row: -row.version)]
    words += reversed(shipped().get(language, ()))
    uses = list(WordingUse.objects.filter(language=language).select_related("used_by").order_by("-number"))
    held = uses[0].label if uses else newest_shipped(language) if language in shipped() else ""
    checks = list(
        TranslationCheck.objects.filter(language=language).select_related("recorded_by").order_by("-recorded_at", "-pk")
    )
    found = periods(language, uses, came=[one.version for one in shipped().get(language, ())])
    return [_version(one, own.get(one.version), uses, checks, found, is_in_use=one.version == held) for one in words]


def _version(
    wording: Wording,
    own: OwnWording | None,
    uses: Sequence[WordingUse],
    checks: Sequence[TranslationCheck],
    found: Sequence[Period],
    *,
    is_in_use: bool,
) -> Version:
    checked = [check for check in checks if check.sha256 == wording.sha256]
    theirs = [period for period in found if period.label == wording.version]
    if is_translation(wording.language):
        theirs = [period for one in theirs if (period := since_checked(one, checked)) is not None]
    used = [use for use in uses if use.label == wording.version]
    return Version(wording=wording, own=own, uses=used, checks=checked, periods=theirs, is_in_use=is_in_use)
