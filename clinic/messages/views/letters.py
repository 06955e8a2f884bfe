"""Letters to print: for whoever wants paper, or gave neither mail nor mobile."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.documents.views.files import pdf_bytes
from clinic.messages import kinds, posting
from clinic.messages.access import access_batch
from clinic.messages.actions import posting as act
from clinic.messages.models import Call, LetterBatch
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

FILE_NAME = "letters.pdf"


@staff(Capability.MESSAGES_SEND)
def letters(request: StaffRequest) -> HttpResponse:
    waiting = Call.objects.to_print(now=now()).filter(site=request.site)
    rows = list(waiting.select_related("patient", "message").order_by("wanted_at", "pk")[: act.MOST])
    context = {
        "count": waiting.count(),
        "rows": [(call, kinds.label_of(call.message.kind)) for call in rows],
        "most": act.MOST,
        "batches": [_batch(batch) for batch in LetterBatch.objects.open().filter(site=request.site)],
    }
    return render(request, "messages/staff/letters.html", context)


def _batch(batch: LetterBatch) -> tuple[LetterBatch, list[Call], list[Call]]:
    """Its letters, and those that ended since: they may lie printed on the pile."""
    calls = list(batch.calls.select_related("patient").order_by("wanted_at", "pk"))
    return (
        batch,
        [call for call in calls if call.settled_at is None],
        [call for call in calls if call.settled_at is not None],
    )


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def make(request: StaffRequest) -> HttpResponse:
    batch = act.make_batch(site=request.site, user=request.user, actor=request.actor, now=now())
    if batch is None:
        messages.error(request, posting.NoLetterLeft.sentence)
    else:
        messages.success(request, _("The letters are ready. Open the PDF and print it."))
    return redirect("letters")


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def draw(request: StaffRequest, pk: int) -> HttpResponse:
    """In a tab of its own, never kept: it names everybody."""
    batch = access_batch(user=request.user, pk=pk, to=Capability.MESSAGES_SEND)
    try:
        prepared = posting.draw(batch=batch, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        return render(request, "errors/409.html", {"sentence": str(refusal)}, status=409)
    return pdf_bytes(FILE_NAME, prepared.drawing.pdf, is_shown=True)


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def posted(request: StaffRequest, pk: int) -> HttpResponse:
    def end(batch: LetterBatch) -> str:
        number = act.post_batch(batch=batch, user=request.user, actor=request.actor, now=now())
        words = ngettext("%(number)d letter is noted as posted.", "%(number)d letters are noted as posted.", number)
        return words % {"number": number}

    return _ended(request, pk, end)


@staff(Capability.MESSAGES_SEND, methods=("POST",))
def put_back(request: StaffRequest, pk: int) -> HttpResponse:
    def end(batch: LetterBatch) -> str:
        act.put_back(batch=batch, user=request.user, actor=request.actor, now=now())
        return _("Put back. Nothing counts as posted; the letters wait to be printed again.")

    return _ended(request, pk, end)


def _ended(request: StaffRequest, pk: int, end: Callable[[LetterBatch], str]) -> HttpResponse:
    batch = access_batch(user=request.user, pk=pk, to=Capability.MESSAGES_SEND)
    try:
        messages.success(request, end(batch))
    except Refusal as refusal:
        messages.error(request, str(refusal))
    return redirect("letters")
