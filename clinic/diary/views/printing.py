"""The list of a day as a PDF, shown at once for the printer of the desk; nothing of it is kept."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect

from clinic.accounts.context import names_are_hidden
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.printing import print_day
from clinic.diary.views.days import read_address
from clinic.documents.failures import RenderFailed
from clinic.documents.views.files import pdf_bytes
from clinic.trail.clock import now


@staff(Capability.DIARY_READ, methods=("POST",))
def day_list(request: StaffRequest, day: str) -> HttpResponse:
    wanted = read_address(day)
    try:
        printed = print_day(
            site=request.site,
            day=wanted,
            user=request.user,
            names_hidden=names_are_hidden(request),
            actor=request.actor,
            now=now(),
        )
    except RenderFailed as refusal:
        messages.error(request, str(refusal))
        return redirect("diary_day", day=day)
    return pdf_bytes(f"day-list-{day}.pdf", printed.drawing.pdf, is_shown=True)
