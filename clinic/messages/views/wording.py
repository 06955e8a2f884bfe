"""Set-up of the messages' words: the list by language, and one message on one channel to write anew."""

from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.languages import is_spoken
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability
from clinic.messages.actions.wording import Which, WordsNotKept, back_to_program, check_words, editable, write_words
from clinic.messages.kinds import Kind
from clinic.messages.models import Wording
from clinic.messages.wordings import showing
from clinic.messages.wordings.current import newest_of
from clinic.messages.wordings.forms import SeenForm, WordsForm
from clinic.messages.wordings.saying import faults_now, own_words_of, programs
from clinic.patients.models import Channel
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

Difference = tuple[str, str, str]


@dataclass(slots=True)
class Page:
    """One message on one channel in one language, with what holds there now."""

    kind: Kind[Any]
    which: Which
    held: Wording | None
    programs: tuple[str, str] = field(init=False)

    def __post_init__(self) -> None:
        self.programs = programs(self.kind, self.channel, self.language)

    @property
    def channel(self) -> Channel:
        return Channel(self.which.channel)

    @property
    def language(self) -> str:
        return self.which.language

    @property
    def own(self) -> Wording | None:
        return self.held if self.held is not None and self.held.text else None

    @property
    def words(self) -> tuple[str, str]:
        return (self.own.subject, self.own.text) if self.own else self.programs

    @property
    def seen_number(self) -> int:
        return self.held.number if self.held else 0

    def form(self) -> WordsForm:
        return WordsForm.of(*self.words, channel=self.channel, seen_number=self.seen_number)


@staff(Capability.SETUP)
def setup_messages(request: StaffRequest) -> HttpResponse:
    asked = request.GET.get("language", settings.LANGUAGE_CODE)
    language = asked if asked in dict(settings.LANGUAGES) else settings.LANGUAGE_CODE
    context = {
        "language": showing.language_of(language),
        "languages": showing.languages(),
        "is_spoken": is_spoken(language),
        "groups": showing.groups(language),
        "fixed": showing.fixed_kinds(),
    }
    return render(request, "messages/setup/list.html", context)


@staff(Capability.SETUP, methods=("GET", "POST"))
def message_words(request: StaffRequest, kind: str, channel: str, language: str) -> HttpResponse:
    """Looking at it first keeps nothing."""
    page = _page(Which(kind, channel, language))
    if request.method != "POST":
        return _shown(request, page, page.form())
    form = WordsForm(request.POST, channel=channel)
    if not form.is_valid():
        return _shown(request, page, form, status=422)
    try:
        if "look" in request.POST:
            check_words(page.kind, page.which, subject=form.subject, text=form.text)
            return _shown(request, page, form, is_tried=True)
        return _kept(request, page, form)
    except WordsNotKept as refused:
        form.take(refused.faults)
    except ChangedMeanwhile as refusal:
        return _overtaken(request, _page(page.which), form, str(refusal))
    except Refusal as refusal:
        form.add_error(None, str(refusal))
    return _shown(request, page, form, status=422)


@staff(Capability.SETUP, methods=("POST",))
def message_words_back(request: StaffRequest, kind: str, channel: str, language: str) -> HttpResponse:
    page, seen = _page(Which(kind, channel, language)), SeenForm(request.POST)
    if not seen.is_valid():
        return _shown(request, page, page.form(), sentence=_("Reload the page and press again."), status=422)
    try:
        back_to_program(
            which=page.which,
            seen_number=seen.cleaned_data["seen_number"],
            at=request.site,
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        return _shown(request, page, page.form(), sentence=str(refusal), status=409)
    messages.success(request, _("The program’s words go out again, from the next message on."))
    return redirect("message_words", *page.which)


def _page(which: Which) -> Page:
    try:
        return Page(editable(which), which, newest_of(*which))
    except Refusal as refusal:
        raise Http404 from refusal


def _kept(request: StaffRequest, page: Page, form: WordsForm) -> HttpResponse:
    write_words(
        which=page.which,
        subject=form.subject,
        text=form.text,
        seen_number=form.cleaned_data["seen_number"],
        at=request.site,
        user=request.user,
        actor=request.actor,
        now=now(),
    )
    messages.success(request, _("Kept. These words go out from the next message on."))
    return redirect("message_words", *page.which)


def _overtaken(request: StaffRequest, page: Page, form: WordsForm, sentence: str) -> HttpResponse:
    """Both versions beside each other; the next press keeps this one."""
    form.add_error(None, sentence)
    saved = page.form()
    theirs = [
        (str(one.label), str(saved[one.name].value()), str(one.value()))
        for one in form
        if not one.is_hidden and str(saved[one.name].value()) != str(one.value())
    ]
    form.data = {one.html_name: one.data for one in form} | {"seen_number": str(page.seen_number)}
    return _shown(request, page, form, theirs=theirs, status=409)


def _shown(
    request: StaffRequest,
    page: Page,
    form: WordsForm,
    *,
    is_tried: bool = False,
    theirs: list[Difference] | None = None,
    sentence: str = "",
    status: int = 200,
) -> HttpResponse:
    faults = faults_now(page.kind, page.own) if page.own is not None else []
    subject, text = (form.subject, form.text) if is_tried else page.programs if faults else page.words
    kind, channel, language = page.kind, page.channel, page.language
    context = {
        "page": page,
        "language": showing.language_of(language),
        "is_spoken": is_spoken(language),
        "form": form,
        "back_form": SeenForm(initial={"seen_number": page.seen_number}, auto_id="back_%s"),
        "preview": showing.preview(kind, channel, language, subject=subject, text=text, site=request.site),
        "is_tried": is_tried,
        "faults": faults,
        "given": showing.given(kind, channel),
        "exception": own_words_of(kind).exception,
        "history": showing.history(kind, channel, language),
        "theirs": theirs,
        "sentence": sentence,
    }
    return render(request, "messages/setup/words.html", context, status=status)
