"""A consent on its way through paper: printed, signed by hand, scanned, written down, compared."""

from datetime import date
from typing import Any

from clinic.accounts.models import User
from clinic.documents.models import IncomingPaper, IssuedDocument
from tests.cast import Cast, actor_of
from tests.papers import filed
from tests.whitening import course
from whitening.cases.models import Case
from whitening.consent import versions
from whitening.consent.actions import PaperSaid, check_paper, print_form, read_paper
from whitening.consent.models import PaperReading, PhotoUse, Signature

SIGNED_ON = date(2026, 3, 3)


def printed(cast: Cast, case: Case) -> IssuedDocument:
    return print_form(case=case, user=cast.assistant, actor=actor_of(cast.assistant), now=course.SIGNED_AT)


def scanned(cast: Cast, case: Case, **changed: Any) -> IncomingPaper:
    about: dict[str, Any] = {
        "kind": "consent",
        "subject_kind": "case",
        "subject_id": str(case.pk),
        "sender": "",
        "dated_on": SIGNED_ON,
    }
    return filed(case.patient, cast.assistant, **about | changed)


def blank_mark(language: str = "en") -> str:
    """As the foot of a blank form printed now bears it."""
    words = versions.in_use(language)
    assert words is not None
    return words.mark


def said(form: IssuedDocument | None, **changed: Any) -> PaperSaid:
    fields: dict[str, Any] = {
        "signer_name": "AMARA NWOSU",
        "signed_on": SIGNED_ON,
        "is_whole": True,
        "photographs": {use: use == PhotoUse.RECORD for use in PhotoUse},
        "form": form,
        "mark": "" if form else blank_mark(),
    }
    return PaperSaid(**fields | changed)


def written_down(
    cast: Cast, case: Case, *, paper: IncomingPaper | None = None, what: PaperSaid | None = None, by: User | None = None
) -> PaperReading:
    user = by or cast.assistant
    return read_paper(
        case=case,
        paper=paper or scanned(cast, case),
        said=what or said(printed(cast, case)),
        user=user,
        actor=actor_of(user),
        now=course.SIGNED_AT,
    )


def compared(cast: Cast, reading: PaperReading, **changed: Any) -> Signature | None:
    fields: dict[str, Any] = {"agrees": True, "words": "", "user": cast.clinician, "now": course.SIGNED_AT}
    wanted = fields | changed
    return check_paper(reading=reading, actor=actor_of(wanted["user"]), **wanted)


def signed(cast: Cast, case: Case) -> Signature:
    row = compared(cast, written_down(cast, case))
    assert row is not None
    return row
