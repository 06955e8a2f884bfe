"""What the aftercare sheet says about this session and this patient: plan, answers, chair, follow-ups, hours."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site
from whitening.cases.models import PlannedLight
from whitening.chairside import log
from whitening.chairside.models import Session
from whitening.chairside.protocol.history import closing_of, taken_back
from whitening.chairside.protocol.payloads import Sensitivity
from whitening.recall.coming import Coming, coming
from whitening.recall.fitting_advice import ON_RECORD, codes_of, fitting
from whitening.recall.opening_days import DAYS_SHOWN, OpeningDays, opening_days
from whitening.recall.reading_hours import open_spans
from whitening.recall.timing import local_day
from whitening.screening.reading import outcome_of
from whitening.screening.teeth import tooth

SMOKE_FREE = timedelta(hours=48)  # common practice, no study proves the number


@dataclass(frozen=True, slots=True, kw_only=True)
class AftercareFacts:
    """instead: by the name of its place, words for this patient; see fitting_advice."""

    closed_at: datetime
    smoke_free_until: datetime
    used_light: bool
    left_out: Sequence[StrOrPromise]
    instead: Mapping[str, StrOrPromise]
    coming: Sequence[Coming]
    opening: Sequence[OpeningDays]


def facts_of(session: Session, *, closed_at: datetime, now: datetime) -> AftercareFacts:
    plan, site = session.plan, session.case.site
    outcome = outcome_of(session.case, today=local_day(closed_at, site.zone), plan=plan)
    codes = codes_of(outcome) | ({ON_RECORD} if session.case.patient.allergies.strip() else set())
    said = fitting(codes, worst_at_chair=worst_at_chair(session))
    return AftercareFacts(
        closed_at=closed_at,
        smoke_free_until=closed_at + SMOKE_FREE,
        used_light=plan.light != PlannedLight.NONE,
        left_out=[tooth(number).patient_name for number in plan.teeth_left_out],
        instead={place.value: words for place, words in said.items()},
        coming=coming(session, now=now),
        opening=_opening(site, now=now),
    )


def worst_at_chair(session: Session) -> int | None:
    """The highest sensitivity that was said, without what was taken back."""
    events = log.read(session)
    gone = taken_back(events, closing=closing_of(events))
    scores = [one.payload.score for one in events if isinstance(one.payload, Sensitivity) and one.seq not in gone]
    return max(scores, default=None)


def _opening(site: Site, *, now: datetime) -> Sequence[OpeningDays]:
    spans = open_spans(site, now=now, days=DAYS_SHOWN)
    if spans is None:
        return ()
    return opening_days(spans, first_on=local_day(now, site.zone), days=DAYS_SHOWN, zone=site.zone)
