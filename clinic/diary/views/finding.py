"""Find a time for a patient and book it, or move a visit: a list of openings, each one press away."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import Site
from clinic.accounts.rights import Capability, may
from clinic.diary import actions, earliest, leads, waiting
from clinic.diary.access import access_booking
from clinic.diary.forms import SEARCH_DAYS, DayForm, FindForm, StartForm
from clinic.diary.models import Booking, Status, TimeInvitation, VisitType
from clinic.diary.openings import Openings, Wanted, find_days
from clinic.diary.views.nobody import no_times
from clinic.diary.views.openings import Found, asked_for, look_for
from clinic.patients.access import access_patient
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

PENCILLED = gettext_lazy("Pencilled. It lapses by itself unless it is confirmed.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """One page of openings: its form, what is looked for, and what choosing one of them does."""

    template: str
    context: dict[str, object]
    form: DayForm
    wanted: Callable[[], Wanted]
    choose: Callable[[StartForm], Booking]
    done: str
    hold: Callable[[StartForm], Booking] | None = None
    not_before: datetime | None = None


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def find_time(request: StaffRequest, patient_pk: int) -> HttpResponse:
    patient = access_patient(user=request.user, pk=patient_pk, to=Capability.DIARY_BOOK)
    if page := no_times(request, patient):
        return page
    at = now()
    if not VisitType.objects.bookable().filter(site=patient.site).exists():
        return render(request, "diary/find_nothing.html", {"patient": patient})
    form = FindForm(_asked(request, patient.site, at), site=patient.site, now=at)

    def wish(start: StartForm) -> actions.BookingRequest:
        wanted = form.wanted()
        return actions.BookingRequest(
            patient,
            wanted.visit_type,
            start.cleaned_data["start_at"],
            wanted.cycles,
            wanted.light_kind,
            wanted.person,
            only=wanted.only,
        )

    invited = TimeInvitation.objects.filter(patient=patient).open(now=at).select_related("visit_type")
    held = Booking.objects.filter(patient=patient).held(now=at).select_related("site", "visit_type")
    search = Search(
        template="diary/find.html",
        context={
            "patient": patient,
            "held": held.order_by("starts_at", "pk"),
            "leads": leads.of_patient(patient, user=request.user, now=at),
            "can_hold": True,
            "now": at,
            "invited": invited,
            "may_invite": may(request.user, Capability.MESSAGES_SEND, patient.site),
        },
        form=form,
        wanted=form.wanted,
        choose=lambda start: actions.book_alone(site=patient.site, request=wish(start), actor=request.actor, now=at),
        hold=lambda start: actions.hold_alone(site=patient.site, request=wish(start), actor=request.actor, now=at),
        done=_("Booked. The confirmation is on its way."),
    )
    return _answer(request, search)


@staff(Capability.DIARY_BOOK, methods=("GET", "POST"))
def move(request: StaffRequest, pk: int) -> HttpResponse:
    booking = access_booking(user=request.user, pk=pk, to=Capability.DIARY_BOOK)
    if page := no_times(request, booking.patient):
        return page
    at = now()
    waits_until = waiting.not_before_on(booking, now=at)
    asked = _asked(request, booking.site, at, waits_until=waits_until)
    form = DayForm(asked, site=booking.site, now=at)

    def wanted() -> Wanted:
        return Wanted(
            booking.visit_type,
            # What was agreed, not what a late start had left of it: that is what the visit is moved with.
            booking.agreed_cycles,
            booking.light_kind,
            form.person_id(),
            form.wishes(),
            without_booking=booking.pk,
            now=at,
            cycle_minutes=booking.cycle_minutes,
        )

    def choose(start: StartForm) -> Booking:
        # The version that was on the page: somebody who moved the visit meanwhile is not overruled unseen.
        booking.version = start.cleaned_data["version"] or 0
        return actions.move(
            booking=booking,
            start_at=start.cleaned_data["start_at"],
            person=form.person_id(),
            actor=request.actor,
            now=at,
        )

    search = Search(
        template="diary/move.html",
        context={"booking": booking, "version": booking.version, "waits_until": waits_until},
        form=form,
        wanted=wanted,
        choose=choose,
        done=_("Moved. The new time is on its way to the patient."),
        not_before=earliest.earliest_at(booking),
    )
    return _answer(request, search)


def _answer(request: StaffRequest, search: Search) -> HttpResponse:
    if not search.form.is_valid():
        return _page(request, search, None, status=422)
    if request.method == "GET":
        return _page(request, search, _find(search))
    hold = search.hold if "hold_at" in request.POST else None
    start = StartForm(request.POST | {"start_at": request.POST["hold_at"]} if hold else request.POST)
    if not start.is_valid():
        return _page(request, search, _find(search), error=str(next(iter(start.errors.values()))[0]), status=422)
    try:
        booking = (hold or search.choose)(start)
    except Refusal as refusal:
        return _page(request, search, _find(search), error=str(refusal), status=409)
    # A hold's own page says how it stands.
    if hold is None:
        messages.success(request, PENCILLED if booking.status == Status.PROPOSED and search.hold else search.done)
    return redirect("booking", pk=booking.pk)


def _asked(request: StaffRequest, site: Site, at: datetime, *, waits_until: date | None = None) -> QueryDict:
    """What the form holds on the first visit is filled in, so that openings show at once."""
    asked = asked_for(request, from_on=max(at.astimezone(site.zone).date(), waits_until or date.min))
    asked.setdefault("cycles", "4")
    if "visit_type" not in asked:
        first = VisitType.objects.bookable().filter(site=site).first()
        asked["visit_type"] = str(first.pk) if first else ""
    return asked


def _range(search: Search) -> tuple[datetime, datetime]:
    earliest_at, latest_at = search.form.range()
    if search.not_before is not None and search.not_before > earliest_at:
        # The same number of days, from the first one on which the visit may be.
        return search.not_before, search.not_before + (latest_at - earliest_at)
    return earliest_at, latest_at


def _find(search: Search) -> Found:
    earliest_at, latest_at = _range(search)
    return look_for(site=search.form.site, wanted=search.wanted(), earliest_at=earliest_at, latest_at=latest_at)


def next_openings(booking: Booking, *, now: datetime) -> Openings:
    """For a visit that lost its time: the same visit from that time on, or from now."""
    wanted = Wanted(
        booking.visit_type, booking.agreed_cycles, booking.light_kind, now=now, cycle_minutes=booking.cycle_minutes
    )
    earliest_at = max(booking.starts_at, now)
    latest_at = earliest_at + timedelta(days=SEARCH_DAYS)
    return find_days(site=booking.site, wanted=wanted, earliest_at=earliest_at, latest_at=latest_at, days=2)


def _page(
    request: StaffRequest, search: Search, found: Found | None, *, error: str = "", status: int = 200
) -> HttpResponse:
    context = {"form": search.form, "found": found, "error": error, **search.context}
    return render(request, search.template, context, status=status)
