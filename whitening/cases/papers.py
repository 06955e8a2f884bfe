"""Which papers that came in belong to a case: those about it, and those of the patient about no case at all."""

from django.db.models import Q

from clinic.documents.models import IncomingPaper
from clinic.documents.models.incoming import IncomingPaperQuerySet
from clinic.patients.person import of_person
from whitening.cases.models import Case


def papers_of(case: Case) -> IncomingPaperQuerySet:
    """Without those that were filed by mistake."""
    about = Q(subject_kind="case", subject_id=str(case.pk)) | Q(subject_kind="")
    return IncomingPaper.objects.standing().filter(about, of_person(case.patient))


def is_about(case: Case, paper: IncomingPaper) -> bool:
    of_nothing = not paper.subject_kind
    return of_nothing or (paper.subject_kind, paper.subject_id) == ("case", str(case.pk))
