"""The consent of a case as staff see it: the talk, who signed what, countersigning, withdrawing."""

from datetime import date

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.languages import is_same, name_of
from clinic.accounts.rights import Capability, may
from clinic.diary.models import Status
from clinic.documents.models import PaperKind
from clinic.trail.access import note_read
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.cases.access import access_case
from whitening.cases.models import Case
from whitening.cases.papers import papers_of
from whitening.consent import versions
from whitening.consent.actions import (
    countersign,
    record_talk,
    take_back_photographs,
    text_to_interpret,
    why_not_now,
    withdraw,
)
from whitening.consent.forms import TakeBackForm, TalkForm, WithdrawForm
from whitening.consent.models import InterpreterKind, PaperReading, PhotoUse, Talk
from whitening.consent.names import is_same_name
from whitening.consent.reading import (
    Standing,
    interpreter_of,
    needed_on,
    photo_choices,
    quote_for,
    standing,
    talk_about,
    talk_that_counts,
)
from whitening.consent.rules import CONSENT_VALID_DAYS
from whitening.consent.seals import is_unaltered

COMING = [Status.PROPOSED, Status.PENDING, Status.BOOKED, Status.ARRIVED, Status.CHECKED_IN]


@staff(Capability.CONSENT_READ)
def consent(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.CONSENT_READ)
    note_read(
        actor=request.actor, what="consent", subject=("case", pk), patient_id=case.patient_id, site_id=case.site_id
    )
    return _page(request, case)


@staff(Capability.CONSENT_RECORD, methods=("POST",))
def talk(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.CONSENT_RECORD)
    form = _talk_form(case, standing(case), request.POST)
    if not form.is_valid():
        return _page(request, case, form=form, status=422)
    try:
        record_talk(case=case, details=form.details(), user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return _page(request, case, form=form, status=409)
    if form.details().can_decide:
        messages.success(request, _("The talk is recorded. The patient can sign now, on the phone or on the tablet."))
    else:
        messages.warning(request, _("The talk is recorded. As it stands the patient cannot sign."))
    return redirect("consent", pk=pk)


@staff(Capability.COUNTERSIGN, methods=("POST",))
def countersigned(request: StaffRequest, pk: int) -> HttpResponse:
    case = access_case(user=request.user, pk=pk, to=Capability.COUNTERSIGN)
    try:
        countersign(case=case, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return _page(request, case, status=409)
    messages.success(request, _("Countersigned."))
    return redirect("case", pk=pk)


@staff(Capability.CONSENT_WITHDRAW, methods=("POST",))
def withdrawn(request: StaffRequest, pk: int) -> HttpResponse:
    """On the patient's word, in one tap. The desk may, and is shown nothing of what was agreed."""
    case = access_case(user=request.user, pk=pk, to=Capability.CONSENT_WITHDRAW)
    form = WithdrawForm(request.POST)
    if not form.is_valid():
        return _refused(request, _("Write at most 500 letters. The reason may also stay empty."), status=422)
    try:
        withdraw(case=case, words=form.cleaned_data["words"], actor=request.actor, now=now())
    except Refusal as refusal:
        return _refused(request, str(refusal), status=409)
    messages.success(request, _("The consent is withdrawn. Nothing more may be done under it."))
    return _back(request, case)


@staff(Capability.CONSENT_WITHDRAW, methods=("POST",))
def photographs_taken_back(request: StaffRequest, pk: int) -> HttpResponse:
    """One use of photographs, on the patient's word."""
    case = access_case(user=request.user, pk=pk, to=Capability.CONSENT_WITHDRAW)
    form = TakeBackForm(request.POST)
    if not form.is_valid():
        return _refused(request, _("Pick which use of photographs is taken back."), status=422)
    try:
        take_back_photographs(case=case, use=PhotoUse(form.cleaned_data["use"]), actor=request.actor, now=now())
    except Refusal as refusal:
        return _refused(request, str(refusal), status=409)
    messages.success(request, _("Taken back. Photographs are no longer used for this."))
    return _back(request, case)


def _back(request: StaffRequest, case: Case) -> HttpResponse:
    reads = may(request.user, Capability.CONSENT_READ, case.site)
    return redirect("consent", pk=case.pk) if reads else redirect("case", pk=case.pk)


def _refused(request: StaffRequest, sentence: str, *, status: int) -> HttpResponse:
    return render(request, "errors/409.html", {"sentence": sentence}, status=status)


def _is_quoted(held: Standing, today: date) -> bool:
    quote = quote_for(held.plan) if held.plan else None
    return quote is not None and quote.valid_until >= today


def _talk_form(case: Case, held: Standing, data: QueryDict | None = None) -> TalkForm:
    """The patient's own language is to be chosen as soon as there are words in it: what is missing is said then."""
    own = versions.offered(case.patient.language)
    codes = (own, settings.LANGUAGE_CODE) if own else ()
    languages = [(code, name_of(code)) for code in codes]
    return TalkForm(data, is_quoted=_is_quoted(held, _today(case)), languages=languages)


def _today(case: Case) -> date:
    return now().astimezone(case.site.zone).date()


def _interpreter_waits(held: Standing, talked: Talk | None, case: Case) -> bool:
    """Whether the interpreter can sign now, before the patient or after."""
    if held.signature is not None and held.signed_this_plan:
        return held.lacks_interpreter
    if talked is None or talked.interpreter == InterpreterKind.NONE:
        return False
    try:
        text = text_to_interpret(case=case, now=now())
    except Refusal:
        # There are no words yet to sign under; the page says why.
        return False
    return text is not None and interpreter_of(text) is None


def _page(request: StaffRequest, case: Case, *, form: TalkForm | None = None, status: int = 200) -> HttpResponse:
    held, today = standing(case), _today(case)
    talked = talk_about(held.plan) if held.plan else None
    holds = held.holds_on(needed_on(case, today=today))
    counts = talk_that_counts(held, holds=holds)
    quoted_plan = counts.plan if counts else held.plan
    site, user = case.site, request.user
    language = talked.language if talked else versions.signable(case.patient.language)
    context = {
        "case": case,
        "form": form or _talk_form(case, held),
        "standing": held,
        "holds": holds,
        "too_old": held.signed_this_plan and not holds,
        "valid_days": CONSENT_VALID_DAYS,
        "out_of_date": not user.in_date(today),
        "talk": talked,
        "talk_that_counts": counts,
        "quote": quote_for(quoted_plan) if quoted_plan else None,
        "waits_because": why_not_now(case=case, now=now()) if talked and not holds else None,
        "photographs": list(photo_choices(case).items()),
        "another_name": held.signature is not None and not is_same_name(held.signature.signer_name, case.patient.name),
        "unaltered": is_unaltered(held.signature) if held.signature else None,
        "other_language": not is_same(language, case.patient.language),
        "unchecked_language": "" if versions.may_be_signed_in(language) else name_of(language),
        "bookings": case.visits.select_related("booking")
        .filter(booking__status__in=COMING)
        .order_by("booking__starts_at"),
        "records": may(user, Capability.CONSENT_RECORD, site) and case.closed_at is None,
        "countersigns": may(user, Capability.COUNTERSIGN, site) and case.closed_at is None,
        "interpreter_waits": _interpreter_waits(held, talked, case),
        "reading_waits": PaperReading.objects.waiting().filter(text__case=case).exists(),
        "papers_wait": papers_of(case).filter(kind=PaperKind.CONSENT).exists(),
        "witnesses": may(user, Capability.CONSENT_WITNESS, site) and case.closed_at is None,
        "hands_out": may(user, Capability.CONSENT_HAND_OUT, site),
        "withdraws": may(user, Capability.CONSENT_WITHDRAW, site),
    }
    return render(request, "consent/consent.html", context, status=status)
