"""What the examination finds besides illness: each rule fires on its trigger, alone, and not beside it."""

from dataclasses import replace
from typing import Any

import pytest

from tests.whitening.screening.someone import LOOKED_AT_ALL, PLAN, codes, finding, open_codes, outcome
from whitening.screening.examination import Examination, Item, Look, SoftTissue, ToothFinding, Trouble
from whitening.screening.grades import AnsweredBy, Grade
from whitening.screening.outcome import Standing
from whitening.screening.rulebook import rule


def tooth(trouble: Trouble, number: str = "11") -> Examination:
    return replace(LOOKED_AT_ALL, teeth=(ToothFinding(number, frozenset({trouble})),))


def look(**seen: bool) -> Examination:
    return replace(LOOKED_AT_ALL, look=Look(**seen))


# Rule, what brings it up, and what must have been looked at.
TABLE: list[tuple[str, Examination, Item]] = [
    ("RES-02", tooth(Trouble.SHOWS_RESTORATION), Item.RESTORATIONS),
    ("RES-03", look(adhesive_work_soon=True), Item.RESTORATIONS),
    ("RES-05", tooth(Trouble.ACRYLIC), Item.RESTORATIONS),
    ("RES-06", tooth(Trouble.AMALGAM), Item.RESTORATIONS),
    ("CRK-02", tooth(Trouble.CRAZE_LINES), Item.CRACKS),
    ("DEN-01", tooth(Trouble.BARE_DENTINE), Item.DENTINE),
    ("PUL-02", tooth(Trouble.DARK_TOOTH), Item.COLOUR),
    ("STN-02", tooth(Trouble.FLECKS), Item.ENAMEL),
    ("STN-03", look(defect=True), Item.ENAMEL),
    ("STN-04", look(grey=True), Item.COLOUR),
    ("STN-05", look(light=True), Item.COLOUR),
    ("LIP-01", replace(LOOKED_AT_ALL, soft_tissue=SoftTissue(cracked_lips=True)), Item.LIPS),
]
IDS = [row[0] for row in TABLE]
STANDINGS = {Grade.NOTE: Standing.NOTE, Grade.WITH_CARE: Standing.WITH_CARE, Grade.NOT_YET: Standing.NOT_YET}


@pytest.mark.parametrize(("code", "trigger", "item"), TABLE, ids=IDS)
def test_fires_on_its_trigger_alone(code: str, trigger: Examination, item: Item) -> None:
    fired = outcome(examination=trigger)
    assert codes(fired) == [code]
    assert fired.standing is STANDINGS[rule(code).grade]
    # A note and a step at the chair keep nobody from starting.
    assert fired.clear is (rule(code).grade <= Grade.WITH_CARE)
    assert (rule(code).answered_by, rule(code).looks_at) == (AnsweredBy.CLINICIAN, item)
    # What nobody looked at stays open.
    unseen = outcome(examination=replace(trigger, looked_at=frozenset(Item) - {item}))
    assert code in open_codes(unseen)
    assert unseen.finding(code) is None


OF_TEETH = [row for row in TABLE if row[1].teeth]


@pytest.mark.parametrize(("code", "trigger", "item"), OF_TEETH, ids=[row[0] for row in OF_TEETH])
def test_teeth_are_named_and_those_of_an_arch_outside_the_plan_are_not(
    code: str, trigger: Examination, item: Item
) -> None:
    assert finding(outcome(examination=trigger), code).teeth == ("11",)
    lower = replace(PLAN, upper=False)
    assert codes(outcome(examination=trigger, plan=lower)) == []


def test_leaving_a_dark_tooth_out_is_no_plan_for_it() -> None:
    without = replace(PLAN, left_out=frozenset({"11"}))
    dark: dict[str, Any] = {"examination": tooth(Trouble.DARK_TOOTH), "plan": without}
    assert finding(outcome(**dark), "PUL-02").blocks


def test_every_kind_of_trouble_is_read_by_a_rule() -> None:
    assert all(codes(outcome(examination=tooth(trouble))) for trouble in Trouble)
