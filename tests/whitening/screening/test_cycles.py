"""Who stays through the cycles: the rule of each place, and that nobody is left alone."""

import csv

import pytest

from clinic.accounts.models import Site
from clinic.diary.models import Need, VisitCode
from clinic.diary.standard import Claims, SegmentPlan
from tests.data import rows
from whitening.cases.visits import STANDARD_VISITS
from whitening.screening.cycles import rulings, who_stays
from whitening.screening.jurisdictions import FILE, JurisdictionRefused, jurisdictions, read_row

ASSISTANT: Claims = ((Need.ASSISTANT, False),)
CLINICIAN: Claims = ((Need.CLINICIAN, False),)
EXAMINER: Claims = ((Need.EXAMINER, False),)
ROOM: Claims = ((Need.ROOM, False),)


def session(cycle: Claims, *, counted: bool = True, ends_with: Claims = CLINICIAN) -> list[SegmentPlan]:
    return [
        SegmentPlan("Set-up", 10, ASSISTANT, ""),
        SegmentPlan("Start", 25, CLINICIAN, ""),
        SegmentPlan("Cycle", 20, cycle, "", counted),
        SegmentPlan("Finish", 15, ends_with, ""),
        SegmentPlan("Turn-round", 10, ROOM, ""),
    ]


@pytest.mark.parametrize(
    ("place", "segments", "allowed", "says"),
    [
        ("UK", session(CLINICIAN), None, ""),
        ("UK", session(EXAMINER), None, ""),
        ("UK", session(ASSISTANT), False, "In United Kingdom a clinician stays through the cycles"),
        ("EU", session(ASSISTANT), False, "(Directive 2011/84/EU"),
        ("US", session(ASSISTANT), True, "No rule that forbids it was found for United States"),
        ("", session(ASSISTANT), False, "Choose first whose rules hold here"),
        ("", session(CLINICIAN), None, ""),
        # A fixed stretch between two with a clinician is the same by another name.
        ("UK", session(ASSISTANT, counted=False), False, "Bind one during “Cycle”"),
        ("UK", session(ASSISTANT, counted=False, ends_with=ASSISTANT), None, ""),
        ("UK", session(ASSISTANT, ends_with=ASSISTANT), False, "Bind one during “Cycle”"),
        ("UK", [SegmentPlan("Cycle", 20, ASSISTANT, "", True)], False, "Bind one during “Cycle”"),
        # Nowhere is somebody left alone with gel on.
        ("US", session(ROOM), False, "Nobody would be with the patient during “Cycle”"),
        ("UK", session(()), False, "Nobody would be with the patient during “Cycle”"),
    ],
)
def test_the_rules(place: str, segments: list[SegmentPlan], allowed: bool | None, says: str) -> None:
    found = who_stays(jurisdictions().get(place), segments)
    assert [one.allowed for one in found] == ([] if allowed is None else [allowed])
    assert all(says in str(one.sentence) for one in found)


@pytest.mark.django_db
def test_only_whitening_sessions_are_asked_about() -> None:
    site = Site(jurisdiction="UK")
    assert rulings(site, VisitCode.HYGIENE, session(ROOM)) == []
    assert [one.allowed for one in rulings(site, VisitCode.TREATMENT, session(ROOM))] == [False]


@pytest.mark.parametrize("place", sorted(jurisdictions()))
def test_what_a_practice_starts_with_is_allowed_everywhere(place: str) -> None:
    for plan in STANDARD_VISITS:
        if plan.code == VisitCode.TREATMENT:
            assert who_stays(jurisdictions()[place], plan.segments) == []


def test_the_data() -> None:
    """Against the table of facts: where it says who applies the gel, a clinician stays."""
    table = {row["code"]: row["who_may_apply"] for row in rows("regulation_by_jurisdiction.csv")}
    assert "by a dentist, or under direct supervision" in table["EU"]
    assert table["UK"].startswith("dentist; or hygienist, therapist, clinical dental technician")
    assert table["IE"] == "first use of each cycle by a dentist"
    assert table["CH"].endswith("or under their direct supervision")
    assert table["US-FED"] == "state matter"
    assert {code for code, place in jurisdictions().items() if place.clinician_in_cycles} == {"EU", "UK", "IE", "CH"}
    assert all(len(place.cycles_source) > 40 for place in jurisdictions().values())


@pytest.mark.parametrize("wrong", [{"clinician_in_cycles": "perhaps"}, {"cycles_source": " "}])
def test_a_row_that_does_not_say(wrong: dict[str, str]) -> None:
    row = next(csv.DictReader(FILE.read_text(encoding="utf-8").splitlines()))
    with pytest.raises(JurisdictionRefused, match="cycles"):
        read_row(row | wrong)
