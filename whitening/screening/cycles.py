"""Who stays with the patient through the cycles: local rules, and one rule of the program itself."""

from collections.abc import Mapping, Sequence

from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site
from clinic.diary.local_rules import Ruling
from clinic.diary.models import Need, VisitCode
from clinic.diary.standard import SegmentPlan
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.local_rules import rule_at

_CLINICIANS = frozenset({Need.CLINICIAN, Need.EXAMINER})
_WITH_PATIENT = _CLINICIANS | {Need.ASSISTANT}


def rulings(site: Site, code: str, segments: Sequence[SegmentPlan]) -> list[Ruling]:
    """For the diary's set-up, about whitening sessions only."""
    return who_stays(rule_at(site), segments) if code == VisitCode.TREATMENT else []


def who_stays(place: Jurisdiction | None, segments: Sequence[SegmentPlan]) -> list[Ruling]:
    """What stands against these segments; where nothing does, what the practice still has to ask.

    Sources: the jurisdiction's row (cycles_source). That nobody is left alone with gel or light is common
    practice, no source.
    """
    alone = [one for one in segments if one.per_cycle and not _binds(one, _WITH_PATIENT)]
    if alone:
        words = _("Nobody would be with the patient during “{segment}”. Bind an assistant or a clinician as well.")
        return [Ruling(False, format_lazy(words, segment=alone[0].name))]
    left = _left_to_assistants(segments)
    if not left:
        return []
    if place is None:
        return [Ruling(False, _("Choose first whose rules hold here: they say whether a clinician may leave."))]
    facts = {"segment": left[0].name, "place": place.name, "instrument": place.instrument}
    return [_away(place, facts)]


def _away(place: Jurisdiction, facts: Mapping[str, object]) -> Ruling:
    if place.clinician_in_cycles:
        words = _(
            "In {place} a clinician stays through the cycles ({instrument}; a cautious reading, ask your dental "
            "council). Bind one during “{segment}”."
        )
        return Ruling(False, format_lazy(words, **facts))
    words = _(
        "The clinician is free during “{segment}”. No rule that forbids it was found for {place} ({instrument}): ask "
        "your dental board before you rely on it."
    )
    return Ruling(True, format_lazy(words, **facts))


def _left_to_assistants(segments: Sequence[SegmentPlan]) -> list[SegmentPlan]:
    """Cycles without a clinician, and whatever else lies between two segments with one: gel may be on then too."""
    bound = [place for place, one in enumerate(segments) if _binds(one, _CLINICIANS)]
    first, last = (bound[0], bound[-1]) if bound else (0, 0)
    return [
        one
        for place, one in enumerate(segments)
        if not _binds(one, _CLINICIANS) and (one.per_cycle or first < place < last)
    ]


def _binds(segment: SegmentPlan, needs: frozenset[Need]) -> bool:
    return any(need in needs for need, _only in segment.needs)
