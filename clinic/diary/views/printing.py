"""What the desk prints: the list and the papers of a day, of which nothing is kept, and the papers of one visit."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from clinic.accounts.context import names_are_hidden
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import papers
from clinic.diary.access import access_booking
from clinic.diary.printing import print_day
from clinic.diary.views.bookings import booking_page
from clinic.diary.views.days import read_address
from clinic.documents.failures import RenderFailed
from clinic.documents.views.files import pdf_bytes, shown
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal


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
            large_print="large" in request.POST,
        )
    except RenderFailed as refusal:
        messages.error(request, str(refusal))
        return redirect("diary_day", day=day)
    return pdf_bytes(f"day-list-{day}.pdf", printed.drawing.pdf, is_shown=True)


@staff(Capability.PATIENTS_READ, methods=("POST",))
def of_day(request: StaffRequest, day: str, code: str) -> HttpResponse:
    """Such a paper names people and is worked from: hidden names are a matter of the screen."""
    wanted, paper = read_address(day), next((one for one in papers.of_day() if one.code == code), None)
    if paper is None:
        raise Http404
    try:
        printed = paper.draw(
            site=request.site,
            day=wanted,
            user=request.user,
            actor=request.actor,
            now=now(),
            large_print="large" in request.POST,
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("diary_day", day=day)
    return pdf_bytes(f"{code}-{day}.pdf", printed.drawing.pdf, is_shown=True)


@staff(Capability.DOCUMENTS_READ, methods=("POST",))
def of_visit(request: StaffRequest, pk: int, code: str) -> HttpResponse:
    booking = access_booking(user=request.user, pk=pk, to=Capability.DOCUMENTS_READ)
    paper = next((one for one in papers.of_visit(booking) if one.code == code), None)
    if paper is None:
        raise Http404
    try:
        document = paper.issue(booking, "large" in request.POST, request.actor, now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return booking_page(request, booking, status=409)
    return shown(request, document, is_shown=True)
