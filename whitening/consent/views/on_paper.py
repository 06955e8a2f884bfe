"""A consent on paper: printing the form, writing down what stands on the scan, and the second person's look."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.documents.models import IncomingPaper, IssuedDocument, PaperKind
from clinic.documents.sections import may_open
from clinic.documents.views.files import pdf_bytes, shown
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case, plan_in_force
from whitening.cases.models import Case
from whitening.cases.papers import papers_of
from whitening.consent import versions
from whitening.consent.actions import check_paper, forms_of, print_blank, print_form, read_paper, why_not_now
from whitening.consent.models import InterpreterKind, PaperReading, PhotoUse
from whitening.consent.models.papers import PaperReadingQuerySet
from whitening.consent.paper_forms import CheckForm, PaperForm
from whitening.consent.reading import talk_about


@staff(Capability.CONSENT_WITNESS, methods=("GET", "POST"))
def on_paper(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.CONSENT_WITNESS)
    if request.method == "GET":
        subject = ("case", pk)
        note_read(
            actor=request.actor, what="consent", subject=subject, patient_id=case.patient_id, site_id=case.site_id
        )
        return _page(request, case)
    form = _form(request, case, request.POST)
    if not form.is_valid():
        return _page(request, case, form=form, status=422)
    paper = next(one for one in _unread(request, case) if one.pk == form.cleaned_data["paper"])
    try:
        read_paper(case=case, paper=paper, said=form.said(), user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _page(request, case, form=form, status=409)
    messages.success(request, _("Written down. Now somebody else looks at the scan and confirms it."))
    return redirect("consent_on_paper", pk=pk)


@staff(Capability.CONSENT_WITNESS, methods=("POST",))
def checked(request: StaffRequest, pk: int, reading_pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.CONSENT_WITNESS)
    reading = _readings(case).filter(pk=reading_pk).first()
    if reading is None:
        raise Http404
    form = _check_form(reading, request.POST)
    if not form.is_valid():
        return _page(request, case, check=(reading, form), status=422)
    try:
        check_paper(
            reading=reading,
            agrees=form.says_yes,
            words=form.cleaned_data["words"],
            user=request.user,
            actor=request.actor,
            now=now(),
        )
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _page(request, case, check=(reading, form), status=409)
    if not form.says_yes:
        messages.warning(request, _("Recorded. What stands on the paper has to be written down anew."))
        return redirect("consent_on_paper", pk=pk)
    messages.success(request, _("The consent on paper counts now, like one that was signed on the screen."))
    return redirect("consent", pk=pk)


@staff(Capability.CONSENT_WITNESS, methods=("POST",))
def printed(request: StaffRequest, pk: int) -> HttpResponse:
    case, is_large = access_case(user=request.user, pk=pk, to=Capability.CONSENT_WITNESS), "large" in request.POST
    try:
        document = print_form(case=case, user=request.user, actor=request.actor, now=now(), is_large=is_large)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return _page(request, case, status=409)
    return shown(request, document, is_shown=True)


@staff(Capability.DOCUMENTS_READ, methods=("POST",))
def blank(request: StaffRequest) -> HttpResponse:
    """Nobody's form, at the site on the screen."""
    try:
        drawn = print_blank(
            site=request.site,
            language=get_language() or "",
            user=request.user,
            actor=request.actor,
            now=now(),
            is_large="large" in request.POST,
        )
    except Refusal as refusal:
        return render(request, "errors/409.html", {"sentence": str(refusal)}, status=409)
    return pdf_bytes("consent-blank.pdf", drawn.drawing.pdf, is_shown=True)


def _readings(case: Case) -> PaperReadingQuerySet:
    rows = PaperReading.objects.filter(text__case=case)
    return rows.select_related("paper__site", "text__talk", "text__case__site", "text__plan", "form", "read_by")


def _scans(case: Case) -> list[IncomingPaper]:
    """Of signed consents that nobody has written down yet, or that were found to differ.

    Also those that were filed on the patient's page: writing it down says which case it is about.
    """
    # One that was withdrawn while it waited is no work any more.
    taken = PaperReading.objects.filter(Q(check_made=None) | Q(check_made__agrees=True)).values("paper")
    waiting = papers_of(case).filter(kind=PaperKind.CONSENT).exclude(pk__in=taken)
    return list(waiting.select_related("site", "filed_by", "mistake"))


def _unread(request: StaffRequest, case: Case) -> list[IncomingPaper]:
    return [one for one in _scans(case) if may_open(one, request.user)]


def _form(request: StaffRequest, case: Case, data: Any = None) -> PaperForm:
    plan = plan_in_force(case)
    talk = talk_about(plan) if plan else None
    return PaperForm(
        data,
        papers=_unread(request, case),
        printed=_printed(case),
        with_interpreter=talk is not None and talk.interpreter != InterpreterKind.NONE,
        patient_name=case.patient.name,
    )


def _printed(case: Case) -> list[IssuedDocument]:
    plan = plan_in_force(case)
    texts = case.consent_texts.filter(plan=plan).select_related("talk") if plan else []
    return [form for text in texts for form in forms_of(text).select_related("site")]


def _check_form(reading: PaperReading, data: Any = None) -> CheckForm:
    return CheckForm(data, auto_id=f"check_{reading.pk}_%s")


@dataclass(frozen=True, slots=True)
class Waiting:
    """What one person wrote down, for a second one to compare; whoever wrote it sees it without the form."""

    reading: PaperReading
    photographs: list[tuple[Any, bool]]
    form: CheckForm | None
    # Of a blank form, as its foot bears it.
    mark: str


def _waiting(request: StaffRequest, case: Case, tried: tuple[PaperReading, CheckForm] | None) -> list[Waiting]:
    found = []
    for reading in _readings(case).waiting():
        chosen = [(PhotoUse(use).label, allowed) for use, allowed in reading.photographs.items()]
        form = tried[1] if tried and tried[0] == reading else _check_form(reading)
        is_own = reading.read_by_id == request.user.pk and not form.is_bound
        mark = "" if reading.form else versions.mark_of(reading.text)
        found.append(Waiting(reading, chosen, None if is_own else form, mark))
    return found


def _page(
    request: StaffRequest,
    case: Case,
    *,
    form: PaperForm | None = None,
    check: tuple[PaperReading, CheckForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    unread = _unread(request, case)
    context = {
        "case": case,
        "why": why_not_now(case=case, now=now()),
        "form": form or _form(request, case),
        "unread": unread,
        "locked": len(_scans(case)) - len(unread),
        "waiting": _waiting(request, case, check),
        "files": may(request.user, Capability.PAPERS_FILE, case.site),
    }
    return render(request, "consent/on_paper.html", context, status=status)
