"""Papers that came in for a case: what is there, and filing another."""

from typing import Any

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.dates import day_words
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.documents.filing import file_away_paper, prepare_paper
from clinic.documents.forms import PaperForm
from clinic.documents.models import IncomingPaper, PaperKind
from clinic.documents.sections import SHOWN_WITH, came_in
from clinic.documents.uploads import was_too_big
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.cases.models import Case
from whitening.screening.actions import attach_reply
from whitening.screening.letters import letters_of
from whitening.screening.models import Letter


class CasePaperForm(PaperForm):
    answers = forms.TypedChoiceField(
        label=gettext_lazy("Answers the letter to"), coerce=int, empty_value=None, required=False
    )
    field_order = ("kind", "answers", "sender", "dated_on", "received_on", "file")

    def __init__(self, *args: Any, letters: list[Letter], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if letters:
            named = [(one.pk, f"{one.addressed_to}, {day_words(one.written_at)}") for one in letters]
            self.fields["answers"].choices = [("", _("none of ours")), *named]  # type: ignore[attr-defined]
        else:
            del self.fields["answers"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("answers") and cleaned.get("kind") not in {None, PaperKind.LETTER}:
            self.add_error("answers", _("Only a letter answers a letter. Pick the kind once more."))
        return cleaned


@staff(Capability.PAPERS_FILE, methods=("GET", "POST"))
def case_papers(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.PAPERS_FILE)
    today = now().astimezone(case.site.zone).date()
    # To whom a letter went says what was found: whoever reads no answers files the paper and no more.
    letters = letters_of(case) if may(request.user, Capability.ANSWERS_READ, case.site) else []
    form, status = CasePaperForm(today=today, letters=letters, initial={"kind": request.GET.get("kind")}), 200
    if request.method == "POST":
        posted, files = request.POST, request.FILES
        form = CasePaperForm(posted, files, today=today, letters=letters, is_too_big=was_too_big(request))
        status = 422
        if form.is_valid():
            try:
                _file(request, case, form, letters)
            except Refusal as refusal:
                form.add_error(None, str(refusal))
                status = 409
            else:
                messages.success(request, _("The paper is filed."))
                return redirect("case", pk=pk)
    rows = IncomingPaper.objects.about(("case", pk)).select_related(*SHOWN_WITH)
    context = {"case": case, "form": form, "came_in": came_in(rows, request.user)}
    return render(request, "casebook_pages/papers.html", context, status=status)


def _file(request: StaffRequest, case: Case, form: CasePaperForm, letters: list[Letter]) -> None:
    content, at = form.content(), now()
    paper = prepare_paper(
        patient=case.patient,
        details=form.details(),
        content=content,
        user=request.user,
        now=at,
        subject=("case", case.pk),
    )
    answered = next((one for one in letters if one.pk == form.cleaned_data.get("answers")), None)
    with transaction.atomic():
        file_away_paper(paper, content=content, actor=request.actor)
        if answered is not None:
            attach_reply(letter=answered, paper=paper, user=request.user, actor=request.actor, now=at)
