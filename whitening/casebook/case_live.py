"""What changes the page of a case on an open screen: a withdrawn consent shuts its gate there within seconds."""

import hashlib
from datetime import datetime

from clinic.patients.person import person_ids
from clinic.trail.models import TrailEntry
from whitening.cases.models import Case


def live_tag(case: Case, *, now: datetime) -> str:
    """Of what the page would show now, without reading it: everything that is recorded about the patient, and the day.

    To be asked before the page is read. Two short queries.
    """
    newest = TrailEntry.objects.filter(patient_id__in=person_ids(case.patient)).order_by("-pk").values_list("pk")
    facts = (case.pk, newest.first(), now.astimezone(case.site.zone).date())
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:20]
