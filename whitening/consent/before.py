"""Signing as one of the things to do before a session; it shows only after the dentist talked it through."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext_lazy as _

from clinic.diary.before import ToDo
from clinic.diary.models import Booking
from whitening.cases.access import plan_in_force
from whitening.cases.models import Case, CaseVisit, VisitPurpose
from whitening.consent.models import Talk
from whitening.consent.preparing import visit_of
from whitening.consent.reading import needed_on, standing, talk_about

MINUTES_TO_SIGN = 6  # reading 21 short elements; common practice, no source


def preparations(booking: Booking, now: datetime) -> list[ToDo]:
    """Nothing that could be missing: advice for whoever wants to read it."""
    if visit_of(booking) is None:
        return []
    return [ToDo(_("What to do and bring"), "prepare", 0, done=True, is_offer=True)]


def todos(booking: Booking, now: datetime) -> list[ToDo]:
    """Signing while it is to be done; afterwards the paper, and the way to withdraw, never hard to find."""
    case = Case.objects.open().filter(visits__booking=booking).first()
    plan = plan_in_force(case) if case else None
    talk = talk_about(plan) if plan else None
    if case is None or plan is None or talk is None:
        return []
    held, found = standing(case, plan=plan), []
    if case.visits.filter(booking=booking, purpose__in=(VisitPurpose.CONSULTATION, VisitPurpose.SESSION)).exists():
        signed = held.holds_on(needed_on(case, today=now.astimezone(case.site.zone).date()))
        # A no is taken seriously: nobody is pressed to sign before it was talked through once more.
        if held.withdrawal is None or talk.talked_at > held.withdrawal.withdrawn_at:
            found.append(ToDo(_("Read and sign your consent"), "sign", MINUTES_TO_SIGN, signed))
        found.append(ToDo(_("Your quote"), "own_quote", 0, done=True, is_offer=True))
    if held.signature is not None:
        found.append(ToDo(_("Your copy of what you signed (PDF)"), "consent_paper", 0, done=True, is_offer=True))
    if held.signed_this_plan:
        words = _("Withdraw your consent, if you do not want it any more")
        found.append(ToDo(words, "sign_withdraw", 0, done=True, is_offer=True))
    return found


def missing(bookings: Collection[Booking], now: datetime) -> Collection[int]:
    """The visits before which the consent is to be signed; each is looked at where the plan was talked through."""
    known = {booking.pk: booking for booking in bookings}
    purposes = (VisitPurpose.CONSULTATION, VisitPurpose.SESSION)
    visits = CaseVisit.objects.filter(booking__in=known, purpose__in=purposes, case__closed_at=None)
    talked = visits.filter(Exists(Talk.objects.filter(plan__case=OuterRef("case")))).values_list("booking", flat=True)
    return {pk for pk in talked if any(not one.done for one in todos(known[pk], now) if not one.is_offer)}
