"""Find the whole course: a few proposals, each held or booked in one press; and what is held for this case now."""

from collections.abc import Callable, Sequence
from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.courses.finding import Courses, find_courses
from clinic.diary.models import Booking, Status
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.casebook.actions import (
    CourseStands,
    VisitWish,
    book_course,
    book_held_course,
    hold_course,
    let_course_go,
)
from whitening.casebook.course_forms import CourseForm, asked_for, picked, shown
from whitening.casebook.courses import Missing, missing, sought
from whitening.casebook.leads import shown_leads
from whitening.cases.access import access_case
from whitening.cases.models import Case, CaseVisit, VisitPurpose


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def find(request: StaffRequest, pk: int) -> HttpResponse:
    case, at = access_case(user=request.user, pk=pk, to=Capability.DIARY_BOOK), now()
    form = _form(request, case, at)
    if request.method == "GET":
        return _page(request, case, form, at)
    hold = "hold" in request.POST
    starts = picked(request.POST.get("hold" if hold else "book", ""))
    if not form.is_valid() or starts is None or len(starts) != len(form.wanted().purposes):
        return _page(request, case, form, at, error=_not_listed(request, case, starts or (), at), status=422)
    wishes = _wishes(form, starts)
    try:
        visits = (hold_course if hold else book_course)(case=case, wishes=wishes, actor=request.actor, now=at)
    except Refusal as refusal:
        return _page(request, case, form, at, error=str(refusal), status=409)
    if hold:
        return redirect(request.get_full_path())
    _say_booked(request, [visit.booking for visit in visits])
    return redirect("case", pk=pk)


@staff(Capability.DIARY_BOOK, methods=("POST",))
def book_held(request: StaffRequest, pk: int) -> HttpResponse:
    return _all_held(request, pk, book_held_course)


@staff(Capability.DIARY_BOOK, methods=("POST",))
def let_go(request: StaffRequest, pk: int) -> HttpResponse:
    return _all_held(request, pk, let_course_go)


def _all_held(request: StaffRequest, pk: int, do: Callable[..., list[Booking]]) -> HttpResponse:
    case, at = access_case(user=request.user, pk=pk, to=Capability.DIARY_BOOK), now()
    try:
        bookings = do(case=case, shown=shown(request.POST.getlist("held")), actor=request.actor, now=at)
    except Refusal as refusal:
        return _page(request, case, _form(request, case, at), at, error=str(refusal), status=409)
    if do is let_course_go:
        messages.success(request, _("The times are free again."))
        return redirect("case_course", pk=pk)
    _say_booked(request, bookings)
    return redirect("case", pk=pk)


def _not_listed(request: StaffRequest, case: Case, starts: Sequence[datetime], at: datetime) -> str:
    """A second page of a course that stands by now asks for fewer visits than were pressed there."""
    known = {visit.booking.starts_at for visit in (*_held(case, request, at), *_standing(case, at))}
    return str(CourseStands.sentence) if known.intersection(starts) else _("Pick one of the courses below.")


def _say_booked(request: StaffRequest, bookings: Sequence[Booking]) -> None:
    pencilled = [one for one in bookings if one.status == Status.PROPOSED]
    booked = len(bookings) - len(pencilled)
    if booked:
        said = ngettext("%(count)d visit is booked.", "%(count)d visits are booked.", booked)
        messages.success(request, said % {"count": booked})
    if pencilled:
        words = ngettext(
            "%(count)d visit is pencilled: it lapses by itself unless it is confirmed.",
            "%(count)d visits are pencilled: they lapse by themselves unless they are confirmed.",
            len(pencilled),
        )
        messages.success(request, words % {"count": len(pencilled)})


def _form(request: StaffRequest, case: Case, at: datetime) -> CourseForm:
    """Filled in with what is missing; each later visit starts from the day on which it may be by itself."""
    today = at.astimezone(case.site.zone).date()
    lacking = missing(case, now=at)
    asked = asked_for(request.GET, missing=lacking, from_on=today)
    return CourseForm(asked, site=case.site, now=at, sessions_before=lacking.sessions_before)


def _wishes(form: CourseForm, starts: Sequence[datetime]) -> list[VisitWish]:
    pairs = zip(form.wanted().purposes, starts, strict=True)
    return [VisitWish(purpose, start_at, form.person_id()) for purpose, start_at in pairs]


def _page(
    request: StaffRequest, case: Case, form: CourseForm, at: datetime, *, error: str = "", status: int = 200
) -> HttpResponse:
    held = _held(case, request, at)
    is_valid = form.is_valid()
    wanted = form.wanted() if is_valid else None
    reasons, found = _found(case, form, wanted, at) if wanted and wanted.any and not held else ([], None)
    context = {
        "case": case,
        "form": form,
        "wanted": wanted,
        "held": held,
        "standing": _standing(case, at),
        "found": found,
        "reasons": reasons,
        **_leads(case, wanted, request, at),
        "error": error,
        "now": at,
    }
    return render(request, "casebook_pages/course.html", context, status=status if is_valid else 422)


def _found(case: Case, form: CourseForm, wanted: Missing, at: datetime) -> tuple[list[str], Courses | None]:
    """Or the sentence of what is not set up."""
    from_on = form.range()[0].astimezone(case.site.zone).date()
    try:
        looked_for = sought(case, wanted, from_on=from_on, person=form.person_id(), wishes=form.wishes(), now=at)
    except Refusal as refusal:
        return [str(refusal)], None
    return [], find_courses(patient=case.patient, visits=looked_for.visits, gaps=looked_for.gaps, now=at)


def _leads(case: Case, wanted: Missing | None, request: StaffRequest, at: datetime) -> dict[str, object]:
    """Those of the sessions; where they are booked already, those of the review; none where nothing is looked for."""
    if wanted is not None and not wanted.any:
        return {}
    purpose = VisitPurpose.SESSION if wanted is None or wanted.sessions else VisitPurpose.REVIEW
    return {"leads": shown_leads(case, purpose, user=request.user, now=at), "leads_of": purpose.label}


def _standing(case: Case, at: datetime) -> list[CaseVisit]:
    """What has its time already, also what is only pencilled."""
    rows = case.visits.filter(booking__status__in=[Status.PROPOSED, Status.BOOKED], booking__ends_at__gt=at)
    rows = rows.exclude(booking__status=Status.PROPOSED, booking__lapses_at__lte=at)
    return list(rows.select_related("booking__site", "booking__visit_type").order_by("booking__starts_at", "pk"))


def _held(case: Case, request: StaffRequest, at: datetime) -> list[CaseVisit]:
    """What this desk holds for this case: booked or let go together."""
    rows = case.visits.filter(booking__status=Status.PENDING, booking__lapses_at__gt=at)
    mine = rows.filter(booking__booked_by_actor=request.actor.id)
    return list(mine.select_related("booking__site", "booking__visit_type").order_by("booking__starts_at", "pk"))
