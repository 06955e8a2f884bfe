"""Filing a paper that came in: look into it, keep its bytes, write the row and the trail."""

import hashlib
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import day_words
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, NotAllowed, require
from clinic.documents import incoming, inspecting, resting
from clinic.documents.failures import FiledAlready
from clinic.documents.models import IncomingPaper, PaperKind, PaperMistake
from clinic.documents.sections import may_open
from clinic.patients.models import Patient
from clinic.patients.person import of_person
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal


class PaperFromTomorrow(Refusal):
    code = "documents.paper_from_tomorrow"
    sentence = _("A paper can neither have come in after today nor be dated after the day on which it came in.")


class LetterUndated(Refusal):
    code = "documents.letter_undated"
    sentence = _("A letter needs who wrote it and the date that stands on it: a decision may rest on it.")


class NotedAsMistake(Refusal):
    code = "documents.noted_as_mistake"
    sentence = _("This paper was noted as filed by mistake meanwhile. Look at what came in once more.")


class TakenOut(Refusal):
    code = "documents.taken_out"
    sentence = _(
        "This very file was filed for this patient and noted as a mistake. If it belongs here after all, scan the "
        "paper once more."
    )


class PaperInUse(Refusal):
    code = "documents.paper_in_use"
    sentence = _("A decision, a letter or a consent rests on this paper. That has to be settled first.")


class MistakeAlready(Refusal):
    code = "documents.mistake_already"
    sentence = _("This paper is noted as filed by mistake already.")


class WhyMistake(Refusal):
    code = "documents.why_mistake"
    sentence = _("Write why it does not belong here, such as “another patient’s”.")


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperDetails:
    kind: PaperKind
    received_on: date
    dated_on: date | None = None
    sender: str = ""


def file_paper(
    *,
    patient: Patient,
    details: PaperDetails,
    content: bytes,
    user: User,
    actor: Actor,
    now: datetime,
    subject: tuple[str, int | str] = ("", ""),
) -> IncomingPaper:
    """Look into it and file it in one go; see `prepare_paper` for what it raises."""
    paper = prepare_paper(patient=patient, details=details, content=content, user=user, now=now, subject=subject)
    with transaction.atomic():
        return file_away_paper(paper, content=content, actor=actor)


def prepare_paper(
    *,
    patient: Patient,
    details: PaperDetails,
    content: bytes,
    user: User,
    now: datetime,
    subject: tuple[str, int | str] = ("", ""),
) -> IncomingPaper:
    """Looked into and unsaved: that may take half a minute, and no transaction waits that long.

    subject: what of the patient it is about, as ("case", its key).
    Raises NotAPaper, FiledAlready, PaperFromTomorrow, LetterUndated.
    """
    site = patient.site
    require(user, Capability.PAPERS_FILE, site)
    _check(details, today=now.astimezone(site.zone).date())
    found = inspecting.inspected(content)
    paper = IncomingPaper(
        site=site,
        patient=patient,
        subject_kind=subject[0],
        subject_id=str(subject[1]),
        kind=details.kind,
        sender=details.sender,
        dated_on=details.dated_on,
        received_on=details.received_on,
        media_type=found.media_type,
        sha256=hashlib.sha256(content).hexdigest(),
        byte_size=len(content),
        pages=found.pages,
        filed_at=now,
        filed_by=user,
    )
    _refuse_twice(paper)
    return paper


def file_away_paper(paper: IncomingPaper, *, content: bytes, actor: Actor) -> IncomingPaper:
    """Within the caller's transaction: the file first, then the row that names it, then the trail."""
    # Nobody else files for this patient meanwhile; asked under the lock, the second of two is told so.
    Patient.objects.select_for_update(no_key=True).get(pk=paper.patient_id)
    _refuse_twice(paper)
    incoming.keep(content, paper.media_type)
    paper.save(force_insert=True)
    _record(paper, actor)
    return paper


def hold_standing(paper: IncomingPaper) -> None:
    """Inside a transaction that rests on the paper: from here to its end nobody notes it as a mistake.

    Raises NotedAsMistake.
    """
    # The same lock as noting a mistake takes.
    Patient.objects.select_for_update(no_key=True).get(pk=paper.patient_id)
    if PaperMistake.objects.filter(paper=paper).exists():
        raise NotedAsMistake


def note_mistake(*, paper: IncomingPaper, why: str, user: User, actor: Actor, now: datetime) -> PaperMistake:
    """From then on nobody opens it here. Whoever filed it may, and whoever may read it.

    Raises WhyMistake, PaperInUse, MistakeAlready, NotAllowed.
    """
    require(user, Capability.PAPERS_FILE, paper.site)
    if user.pk != paper.filed_by_id and not may_open(paper, user):
        raise NotAllowed
    if not why.strip():
        raise WhyMistake
    with transaction.atomic():
        # The same lock as filing takes, and whatever is done with a paper behind it.
        Patient.objects.select_for_update(no_key=True).get(pk=paper.patient_id)
        if PaperMistake.objects.filter(paper=paper).exists():
            raise MistakeAlready
        if resting.on(paper):
            raise PaperInUse
        row = PaperMistake.objects.create(paper=paper, why=why, marked_at=now, marked_by=user)
        record(
            verb="documents.filed_by_mistake",
            actor=actor,
            subject=(paper.subject_kind or "paper", paper.subject_id or paper.pk),
            patient_id=paper.patient_id,
            site_id=paper.site_id,
            values={"paper": paper.pk, "why": why},
        )
    return row


def _check(details: PaperDetails, *, today: date) -> None:
    if details.received_on > today or (details.dated_on and details.dated_on > details.received_on):
        raise PaperFromTomorrow
    if details.kind == PaperKind.LETTER and not (details.sender.strip() and details.dated_on):
        raise LetterUndated


def _refuse_twice(paper: IncomingPaper) -> None:
    held = IncomingPaper.objects.filter(of_person(paper.patient), sha256=paper.sha256).first()
    if held is not None and held.is_mistake:
        raise TakenOut
    if held is not None:
        raise FiledAlready(day=day_words(held.filed_at, paper.site.zone))


def _record(paper: IncomingPaper, actor: Actor) -> None:
    record(
        verb="documents.filed",
        actor=actor,
        subject=(paper.subject_kind or "paper", paper.subject_id or paper.pk),
        patient_id=paper.patient_id,
        site_id=paper.site_id,
        values={
            "paper": paper.pk,
            "kind": str(paper.kind),
            "sender": paper.sender,
            "dated_on": paper.dated_on,
            "received_on": paper.received_on,
            "media_type": str(paper.media_type),
            "sha256": paper.sha256,
            "byte_size": paper.byte_size,
            "pages": paper.pages,
        },
    )
