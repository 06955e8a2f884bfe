"""Set-up of the consent's words: all versions by language, one of them to read, a new one to write.

What a version says may be read by everybody at the practice: each signed consent names its own.
"""

from dataclasses import dataclass, replace
from datetime import date

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.languages import is_spoken, name_of
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability, may
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.views.versions import Difference, both
from whitening.consent import versions
from whitening.consent.actions import WordingNotKept, record_check, take_into_use, write_wording
from whitening.consent.differences import differences
from whitening.consent.example import assembled
from whitening.consent.models import OwnWording
from whitening.consent.versions import Version
from whitening.consent.wording import Wording, WordingRefused, read
from whitening.consent.wording_forms import CheckForm, UseForm, WordingForm, form_about


@dataclass(frozen=True, slots=True)
class Spoken:
    """A language on the list. start: the version to translate, where there are no words in it yet."""

    code: str
    name: str
    is_spoken: bool
    is_translation: bool
    versions: list[Version]
    start: str = ""

    @property
    def in_use(self) -> Version | None:
        return next((one for one in self.versions if one.is_in_use), None)


@staff(Capability.SETUP)
def wordings(request: StaffRequest) -> HttpResponse:
    languages = [_language(code) for code, _name in settings.LANGUAGES]
    languages.sort(key=lambda language: not language.versions)
    return render(request, "consent/setup/wordings.html", {"languages": languages})


@staff(Capability.TODAY)
def version(request: StaffRequest, language: str, label: str) -> HttpResponse:
    return _version_page(request, _wording(language, label))


@staff(Capability.SETUP, methods=("GET", "POST"))
def change(request: StaffRequest, language: str, label: str) -> HttpResponse:
    """Writes the next version, beginning with the words of this one; looking at it first writes nothing."""
    begun = _to_begin_with(language, label)
    if request.method != "POST":
        held = versions.newest_own(language)
        return _change_page(request, begun, form_about(begun, seen_version=held.version if held else 0))
    looks = "look" in request.POST
    form, theirs, tried = WordingForm(request.POST, looks=looks), None, None
    if form.is_valid():
        try:
            if looks:
                tried = _tried(begun, form)
            else:
                return _kept(request, language, form)
        except (WordingNotKept, WordingRefused) as refused:
            form.take(refused.faults)
        except ChangedMeanwhile as refusal:
            theirs = _both(language, form)
            form.add_error(None, str(refusal))
        except Refusal as refusal:
            form.add_error(None, str(refusal))
    return _change_page(request, begun, form, theirs=theirs, tried=tried)


@staff(Capability.SETUP, methods=("POST",))
def use(request: StaffRequest, language: str, label: str) -> HttpResponse:
    wording, form = _wording(language, label), UseForm(request.POST)
    if not form.is_valid():
        return _version_page(request, wording, sentence=_("Reload the page and press again."), status=422)
    try:
        take_into_use(
            language=language,
            label=label,
            seen_number=form.cleaned_data["seen_number"],
            at=request.site,
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        return _version_page(request, wording, sentence=str(refusal), status=409)
    messages.success(request, _("Version %(version)s is in use from now on.") % {"version": label})
    return redirect("wording_version", language=language, label=label)


@staff(Capability.SETUP, methods=("POST",))
def check(request: StaffRequest, language: str, label: str) -> HttpResponse:
    wording, form = _wording(language, label), CheckForm(request.POST)
    if not form.is_valid():
        return _version_page(request, wording, check_form=form, status=422)
    try:
        record_check(
            language=language,
            label=label,
            details=form.details(),
            at=request.site,
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _version_page(request, wording, check_form=form, status=409)
    messages.success(request, _("The check is recorded."))
    return redirect("wording_version", language=language, label=label)


def _language(code: str) -> Spoken:
    held, is_translation = versions.all_versions(code), versions.is_translation(code)
    source = versions.in_use(settings.LANGUAGE_CODE)
    start = source.version if source is not None and not held else ""
    return Spoken(code, name_of(code), is_spoken(code), is_translation, held, start)


def _wording(language: str, label: str) -> Wording:
    found = versions.version_of(language, label)
    if found is None:
        raise Http404
    return found


def _to_begin_with(language: str, label: str) -> Wording:
    """A version of this language; where there is none at all, the one of the program's language to translate."""
    if language not in dict(settings.LANGUAGES):
        raise Http404
    found = versions.version_of(language, label) or _wording(settings.LANGUAGE_CODE, label)
    return replace(found, language=language)


def _tried(begun: Wording, form: WordingForm) -> Wording:
    """Raises WordingRefused."""
    content = {
        "version": begun.version,
        "origin": form.cleaned_data["reason"] or begun.origin,
        "element": form.elements(),
    }
    return read(begun.language, content)


def _kept(request: StaffRequest, language: str, form: WordingForm) -> HttpResponse:
    row = write_wording(
        language=language,
        elements=form.elements(),
        reason=form.cleaned_data["reason"],
        seen_version=form.cleaned_data["seen_version"],
        at=request.site,
        user=request.user,
        actor=request.actor,
        now=now(),
    )
    messages.success(request, _("Kept as version %(version)s. It is not in use yet.") % {"version": row.label})
    return redirect("wording_version", language=row.language, label=row.label)


def _both(language: str, form: WordingForm) -> list[Difference]:
    """Read again: what overtook this form is newer than what the page began with."""
    held: OwnWording | None = versions.newest_own(language)
    if held is None:
        return []
    saved = WordingForm.of(versions.as_wording(held).elements, seen_version=held.version, reason=held.reason)
    return both(typed=form, saved=saved, version=held.version)


def _version_page(
    request: StaffRequest,
    wording: Wording,
    *,
    check_form: CheckForm | None = None,
    sentence: str = "",
    status: int = 200,
) -> HttpResponse:
    language, may_change = wording.language, may(request.user, Capability.SETUP, request.site)
    entry = next(one for one in versions.all_versions(language) if one.wording.version == wording.version)
    used, newest = versions.in_use(language), versions.newest_use(language)
    context = {
        "version": entry,
        "language_name": name_of(language),
        "is_translation": versions.is_translation(language),
        "is_spoken": is_spoken(language),
        "in_use": used,
        "is_behind": entry.is_in_use and versions.is_behind(wording),
        "changes": differences(used.elements, wording.elements) if used else [],
        "elements": assembled(wording, site=request.site, now=now()),
        "may_change": may_change,
        "use_form": UseForm(initial={"seen_number": newest.number if newest else 0}),
        "check_form": check_form or CheckForm.on(_today(request)),
        "sentence": sentence,
    }
    return render(request, "consent/setup/version.html", context, status=status)


def _change_page(
    request: StaffRequest,
    begun: Wording,
    form: WordingForm,
    *,
    theirs: list[Difference] | None = None,
    tried: Wording | None = None,
) -> HttpResponse:
    used = versions.in_use(begun.language)
    context = {
        "form": form,
        "begun": begun,
        "language_name": name_of(begun.language),
        "theirs": theirs,
        "tried": tried,
        "in_use": used,
        "changes": differences((used or begun).elements, tried.elements) if tried else [],
        "elements": assembled(tried, site=request.site, now=now()) if tried else [],
    }
    status = 200 if tried is not None or not form.is_bound else 409 if theirs is not None else 422
    return render(request, "consent/setup/change.html", context, status=status)


def _today(request: StaffRequest) -> date:
    return now().astimezone(request.site.zone).date()
