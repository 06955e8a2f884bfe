"""Which visit, paper, message or follow-up an entry of the timeline is about, in a word or two."""

from collections.abc import Iterable, Iterator, Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext as _

from clinic.accounts.dates import moment_words
from clinic.documents.models import IssuedDocument
from clinic.messages import kinds
from clinic.messages.models import DueMessage
from whitening.cases.models import Case, CaseVisit
from whitening.recall.models import FollowUp, FollowUpKind

# As the trail names what an entry is about.
Subject = tuple[str, str]
Named = tuple[Subject, str | Promise]
# A follow-up with the moment it is due: for the entry that plans it, as a call on the next day is looked for there.
PLANNED = "follow_up planned"


def names(
    case: Case, *, visits: Iterable[CaseVisit], documents: Iterable[IssuedDocument]
) -> Mapping[Subject, str | Promise]:
    return dict([*_visits(visits), *_papers(documents), *_messages(case), *_follow_ups(case)])


def _visits(visits: Iterable[CaseVisit]) -> Iterator[Named]:
    for visit in visits:
        number = f" {visit.session_number}" if visit.session_number else ""
        yield ("booking", str(visit.booking_id)), f"{visit.get_purpose_display()}{number}"


def _papers(documents: Iterable[IssuedDocument]) -> Iterator[Named]:
    for document in documents:
        yield ("document", str(document.pk)), document.title


def _messages(case: Case) -> Iterator[Named]:
    rows = DueMessage.objects.filter(patient=case.patient_id, planned_at__gte=case.opened_at)
    for pk, kind in rows.values_list("pk", "kind"):
        yield ("message", str(pk)), kinds.get(kind).label


def _follow_ups(case: Case) -> Iterator[Named]:
    for row in FollowUp.objects.filter(case=case):
        yield ("follow_up", str(row.pk)), row.get_kind_display()
        yield (PLANNED, str(row.pk)), _due(row)


def _due(row: FollowUp) -> str:
    about = {"kind": row.get_kind_display(), "moment": moment_words(row.due_at)}
    if row.kind == FollowUpKind.REVIEW:
        # The review itself has its window; what is due is that the patient is asked to pick a day.
        return _("%(kind)s, invitation on %(moment)s") % about
    return _("%(kind)s, %(moment)s") % about
