"""Opening a case, tying visits to it, closing it."""

from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary.locks import lock_patient
from clinic.diary.models import Booking
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.models import Case, CaseVisit, CloseReason, VisitPurpose
from whitening.cases.rules import is_old_enough, treatable_on
from whitening.cases.wording import shown_birthday


class TooYoung(Refusal):
    code = "cases.too_young"
    sentence = _(
        "Whitening not before %(day)s, the 18th birthday. If a dentist thinks treatment is needed for disease, "
        "that is a separate route outside this program."
    )


class AlreadyOpen(Refusal):
    code = "cases.already_open"
    sentence = _("This patient already has an open case. Close it before you open another.")


class CaseClosed(Refusal):
    code = "cases.closed"
    sentence = _("This case is closed. A new course needs a new case with its own examination and consent.")


def check_age(patient: Patient, day: date) -> None:
    """Raises TooYoung when the patient is under 18 on that day."""
    if not is_old_enough(patient.birth_on, day):
        raise TooYoung(day=shown_birthday(treatable_on(patient.birth_on)))


def hold_open(case: Case) -> Case:
    """Locks the case to the end of the caller's transaction and gives it as it stands now. Raises CaseClosed."""
    held = _locked(case)
    if held.closed_at is not None:
        raise CaseClosed
    return held


def _locked(case: Case) -> Case:
    """Given to another record of the same person while we waited, the row no longer fits the patient who was read with
    it, and PostgreSQL finds none: asked once more, it finds the new pair.
    """
    rows = Case.objects.select_for_update(of=("self",)).select_related("site", "patient").filter(pk=case.pk)
    return rows.first() or rows.get()


def open_case(*, patient: Patient, wishes: str, expected_cycles: int, user: User, actor: Actor, now: datetime) -> Case:
    """Raises TooYoung, AlreadyOpen or JoinedMeanwhile."""
    require(user, Capability.CASE_OPEN, patient.site)
    check_age(patient, now.astimezone(patient.site.zone).date())
    try:
        with transaction.atomic():
            lock_patient(patient)
            case = Case.objects.create(
                site=patient.site,
                patient=patient,
                wishes=wishes,
                expected_cycles=expected_cycles,
                opened_at=now,
                opened_by=user,
            )
            _record("cases.opened", case, actor, {"wishes": wishes, "expected_cycles": expected_cycles})
    except IntegrityError as error:
        if not Case.objects.open().filter(patient=patient).exists():
            raise
        raise AlreadyOpen from error
    return case


def add_visit(
    *, case: Case, booking: Booking, purpose: VisitPurpose, actor: Actor, session_number: int | None = None
) -> CaseVisit:
    """Ties a booking to the case, in the caller's transaction. A session day under 18 is refused."""
    if purpose == VisitPurpose.SESSION:
        check_age(case.patient, booking.wall_on)
    with transaction.atomic():
        # As it stands now: a colleague may have closed it while the free times were on the screen.
        hold_open(case)
        visit = CaseVisit.objects.create(case=case, booking=booking, purpose=purpose, session_number=session_number)
        _record("cases.visit_added", case, actor, {"booking": booking.pk, "purpose": str(purpose)})
    return visit


def number_visit(*, visit: CaseVisit, number: int, actor: Actor) -> None:
    """Another session has its number now. In the caller's transaction, which holds the case."""
    visit.session_number = number
    visit.save(update_fields=["session_number"])
    _record("cases.visit_numbered", visit.case, actor, {"booking": visit.booking_id, "session_number": number})


def close_case(*, case: Case, reason: CloseReason, words: str, actor: Actor, now: datetime) -> Case:
    """Closes once; a second closing changes nothing and is refused."""
    with transaction.atomic():
        changed = Case.objects.filter(pk=case.pk, closed_at=None).update(
            closed_at=now, closed_by=actor.name, close_reason=reason, close_words=words, version=F("version") + 1
        )
        if not changed:
            raise CaseClosed
        _record("cases.closed", case, actor, {"reason": str(reason), "words": words})
    case.refresh_from_db()
    return case


def open_again(*, case: Case, actor: Actor) -> Case:
    """What it was closed for had been noted by mistake: it is what it was before. In the caller's transaction, which
    holds the patient. Raises AlreadyOpen where a newer case is open.
    """
    with transaction.atomic():
        held = _locked(case)
        if held.closed_at is None or Case.objects.open().filter(patient=held.patient_id).exists():
            raise AlreadyOpen
        was: dict[str, object] = {"reason": held.close_reason, "words": held.close_words}
        held.closed_at, held.version = None, held.version + 1
        held.closed_by = held.close_reason = held.close_words = ""
        held.save(update_fields=["closed_at", "closed_by", "close_reason", "close_words", "version"])
        _record("cases.opened_again", held, actor, was)
    return held


def _record(verb: str, case: Case, actor: Actor, values: dict[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("case", case.pk),
        patient_id=case.patient_id,
        site_id=case.site_id,
        values=values,
    )
