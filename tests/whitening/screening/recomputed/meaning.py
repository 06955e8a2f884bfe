"""What each row of the table of rules means for a patient, read from its own words. The program's rules are not asked.

One reading for each code: there, not there, not known, or there and quiet (settled by a later look). Grades, the
light and the days to wait are taken from the table itself. A row that is added to the program gets a reading here.
"""

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from enum import Enum
from functools import partial
from typing import TypeVar

from tests.data import rows
from tests.whitening.screening.recomputed.patients import TODAY, Person
from whitening.screening.facts import AnswerValue


class Is(Enum):
    ABSENT = 0
    OPEN = 1
    QUIET = 2
    THERE = 3


Meaning = Callable[[Person], Is]
FACTS = {row["code"]: row for row in rows("screening_rules.csv")}
PLACES = {row["code"].removesuffix("-FED"): row for row in rows("regulation_by_jurisdiction.csv")}
# Standing as the table's own grades order it; what is not known lies above a caution and below a deferral.
RANK = {"note": 1, "caution": 2, "defer": 4, "stop": 5}
NOT_KNOWN = 3
MEANS: dict[str, Meaning] = {}
# "Use resin-free isolation", "leave it out", "or leave tooth out": the plan that ends the row, by its own words.
RESIN_FREE, TOOTH_LEFT_OUT = ("ALG-02",), {"CRK-01": "painful_crack", "DEN-02": "bare_dentine_not_coverable"}
# Two days and a look belong to each of these; they are tried by hand in the tests of the rules.
BY_HAND = {"HYG-02", "ORT-01", "PUL-03", "RES-04", "SUR-01"}


def means(code: str) -> Callable[[Meaning], Meaning]:
    def keep(meaning: Meaning) -> Meaning:
        MEANS[code] = meaning
        return meaning

    return keep


Row = TypeVar("Row")


def all_mean(table: Mapping[str, Row], read: Callable[[Row, Person], Is]) -> None:
    """Rows that are read alike, each with what it names."""
    MEANS.update({code: partial(read, row) for code, row in table.items()})


def found_in(person: Person) -> dict[str, Is]:
    """Each row that has a reading, with what the plan makes of it."""
    return {code: _with_plan(code, meaning(person), person) for code, meaning in MEANS.items()}


def standing(found: dict[str, Is]) -> int:
    """The worst grade wins; what is quiet counts as a note; an open question lifts whatever is milder."""
    ranks = [RANK[FACTS[code]["grade"]] for code, state in found.items() if state is Is.THERE]
    ranks += [RANK["note"] for state in found.values() if state is Is.QUIET]
    ranks += [NOT_KNOWN for state in found.values() if state is Is.OPEN]
    return max(ranks, default=0)


def _with_plan(code: str, state: Is, person: Person) -> Is:
    plan = person.planned
    if state is not Is.THERE or plan is None:
        return state
    ends = FACTS[code]["lamp_only"] == "yes" and not plan.light
    ends |= code in RESIN_FREE and not plan.resin
    if code in TOOTH_LEFT_OUT:
        ill = _ill_teeth(person, TOOTH_LEFT_OUT[code])
        ends |= bool(ill) and ill <= plan.left_out
    return Is.QUIET if ends else state


def _value(person: Person, name: str) -> AnswerValue | None:
    return person.answers.get(name)


def _one_of(person: Person, name: str, *wanted: object) -> Is:
    value = _value(person, name)
    if value is None or value == "in_private":
        return Is.OPEN
    return Is.THERE if value in wanted else Is.ABSENT


def _told(person: Person, name: str) -> Is:
    """Not being sure is for a person to sort out, so it counts like a yes."""
    return _one_of(person, name, "yes", "unsure")


def _ticked(person: Person, name: str, *wanted: str) -> Is:
    value = _value(person, name)
    if not isinstance(value, tuple):
        return Is.OPEN
    return Is.THERE if set(value) & {*wanted, "unsure"} else Is.ABSENT


def _seen(person: Person, item: str, there: bool) -> Is:
    if person.looked is None or item not in person.looked.items:
        return Is.OPEN
    return Is.THERE if there else Is.ABSENT


def _flag(person: Person, item: str, flag: str) -> Is:
    return _seen(person, item, person.looked is not None and flag in person.looked.flags)


def _ill_teeth(person: Person, trouble: str) -> frozenset[str]:
    """In the arches of the plan, also those that it leaves out; without a plan any."""
    teeth = person.looked.teeth if person.looked else {}
    plan = person.planned
    return frozenset(
        number for number, had in teeth.items() if trouble in had and (plan is None or plan.in_field(number))
    )


def _tooth(person: Person, item: str, trouble: str) -> Is:
    return _seen(person, item, bool(_ill_teeth(person, trouble)))


def _worst(*states: Is) -> Is:
    """There before not known before not there."""
    return max(states, key=lambda state: state.value)


def _told_then_seen(told: Is, seen: Is, person: Person) -> Is:
    if seen is Is.THERE or told is not Is.THERE:
        return _worst(told, seen)
    settled = seen is Is.ABSENT and person.looked is not None and person.looked.newer
    return Is.QUIET if settled else Is.THERE


def _days(code: str) -> timedelta:
    return timedelta(days=int(FACTS[code]["deferral_days_default"]))


def _since(person: Person, name: str, code: str) -> Is:
    """From a day that the patient named until the table's days are over."""
    day = _value(person, name)
    if not isinstance(day, date):
        return Is.OPEN
    return Is.THERE if day + _days(code) > TODAY else Is.ABSENT


TOLD = {
    "ALG-01": "reacted_to_peroxide",
    "ALG-02": "reacted_to_resin",
    "LGT-01": "light_treatment",
    "LGT-02": "porphyria",
    "LGT-03": "sun_illness",
    "LGT-07": "skin_cancer",
    "LGT-09": "flashing_lights",
    "STN-01": "tetracycline",
}
TICKED = {
    "ALG-03": ("allergies", "latex"),
    "ALG-04": ("allergies", "colophony"),
    "ALG-05": ("allergies", "other"),
    "MED-02": ("allergies", "painkiller"),
    "MET-02": ("illnesses", "g6pd"),
    "MET-03": ("illnesses", "diabetes", "healing"),
    "MET-04": ("illnesses", "cancer_care", "radiotherapy"),
    "LGT-08": ("eyes", "lens", "retina"),
    "LGT-10": ("eyes", "glasses", "contact_lenses"),
    "MUC-03": ("mouth_lining", "lichen_planus", "pemphigoid", "burning"),
    "DRY-01": ("mouth_lining", "dry"),
    "ORT-02": ("worn_in_mouth", "buttons"),
    "IMP-01": ("worn_in_mouth", "implant", "denture"),
    "PIE-01": ("worn_in_mouth", "piercing"),
    "BRX-01": ("jaw", "grinding"),
    "TMJ-01": ("jaw", "clicks", "narrow"),
    "TMJ-02": ("jaw", "locked"),
    "GAG-01": ("lying_back", "gagging"),
    "SWL-01": ("lying_back", "swallowing", "posture"),
}
ON_TEETH = {
    "CAR-01": ("decay", "decay"),
    "RES-01": ("restorations", "faulty_restoration"),
    "RES-02": ("restorations", "shows_restoration"),
    "RES-05": ("restorations", "acrylic"),
    "RES-06": ("restorations", "amalgam"),
    "CRK-02": ("cracks", "craze_lines"),
    "DEN-01": ("dentine", "bare_dentine"),
    "DEN-02": ("dentine", "bare_dentine_not_coverable"),
    "PUL-02": ("colour", "dark_tooth"),
    "STN-02": ("enamel", "flecks"),
}
SEEN = {
    "RES-03": ("restorations", "adhesive_work_soon"),
    "STN-03": ("enamel", "defect"),
    "STN-04": ("colour", "grey"),
    "STN-05": ("colour", "light"),
    "LIP-01": ("lips", "cracked_lips"),
}
TOLD_THEN_SEEN = {
    "PER-01": ("gums_bleed", "gums", "inflamed"),
    "PER-02": ("gum_disease", "gums", "active"),
    "MUC-01": ("mouth_sore", "soft_tissue", "sore"),
}
TOLD_THEN_ON_TEETH = {
    "CRK-01": ("hurts_on_biting", "cracks", "painful_crack"),
    "PUL-01": ("toothache", "pulp", "sick_pulp"),
}
all_mean(TOLD, lambda name, person: _told(person, name))
all_mean(TICKED, lambda row, person: _ticked(person, *row))
all_mean(ON_TEETH, lambda row, person: _tooth(person, *row))
all_mean(SEEN, lambda row, person: _flag(person, *row))
all_mean(
    TOLD_THEN_SEEN,
    lambda row, person: _told_then_seen(_told(person, row[0]), _flag(person, row[1], row[2]), person),
)
all_mean(
    TOLD_THEN_ON_TEETH,
    lambda row, person: _told_then_seen(_told(person, row[0]), _tooth(person, row[1], row[2]), person),
)


@means("LAW-01")
def _too_strong(person: Person) -> Is:
    if person.planned is None:
        return Is.OPEN
    cap = PLACES[person.place]["max_h2o2_professional_cosmetic_pct"].split()[0]
    return Is.THERE if cap.isdecimal() and person.planned.strength > int(cap) else Is.ABSENT


@means("LAW-02")
def _wrong_hands(person: Person) -> Is:
    """By the table's "who": on prescription (UK; the cautious reading for the US), or supervised (EU, JP)."""
    plan = person.planned
    if plan is None or plan.operator is None:
        return Is.OPEN
    if plan.operator == "dentist":
        return Is.ABSENT
    bond = {"UK": plan.prescribed, "US": plan.prescribed, "EU": plan.supervised, "JP": plan.supervised, "CH": True}
    return Is.ABSENT if plan.operator == "hygienist" and bond.get(person.place, False) else Is.THERE


@means("LAW-03")
def _not_examined(person: Person) -> Is:
    return Is.ABSENT if person.looked is not None and person.looked.by_dentist else Is.THERE


def _too_young(person: Person, code: str) -> Is:
    birthday = person.birth_on.replace(year=person.birth_on.year + 18)
    there = birthday > TODAY and person.place in FACTS[code]["jurisdictions"].split(";")
    return Is.THERE if there else Is.ABSENT


all_mean({"AGE-01": "AGE-01", "AGE-02": "AGE-02"}, lambda code, person: _too_young(person, code))


@means("AGE-03")
def _milk_teeth(person: Person) -> Is:
    milk, plan = person.looked.milk if person.looked else (), person.planned
    return _seen(person, "milk_teeth", any(plan is None or plan.in_field(number) for number in milk))


@means("CON-01")
def _not_agreed(person: Person) -> Is:
    if person.planned is None or person.consent is None:
        return Is.OPEN
    return Is.ABSENT if person.consent == "current" else Is.THERE


def _if_it_may_apply(person: Person, name: str) -> Is:
    if _value(person, "pregnancy_may_apply") == "no":
        return Is.ABSENT
    return _told(person, name) if _value(person, "pregnancy_may_apply") == "yes" else Is.OPEN


all_mean(
    {"PRG-01": "pregnant", "PRG-02": "breastfeeding", "PRG-03": "trying_for_a_baby"},
    lambda name, person: _if_it_may_apply(person, name),
)


@means("MET-01")
def _no_catalase(person: Person) -> Is:
    return _worst(_told(person, "acatalasaemia"), _told(person, "no_fizz"))


@means("MED-01")
def _unread_list(person: Person) -> Is:
    taken = _value(person, "medicines")
    if not taken:
        return Is.OPEN if taken is None else Is.ABSENT
    return _told_then_seen(Is.THERE, _seen(person, "medicines", there=False), person)


def _takes(person: Person, kind: str, ingredient: str) -> Is:
    """Ticked, or in the list; a list that nobody handed in adds nothing to the page about light."""
    listed = _value(person, "medicines") or ()
    named = isinstance(listed, tuple) and ingredient in listed
    return Is.THERE if named else _ticked(person, "light_medicines", kind)


all_mean(
    {
        "LGT-04": ("light", "naproxen"),
        "LGT-05": ("retinoid", "isotretinoin"),
        "LGT-06": ("hypericum", "st john's wort"),
    },
    lambda row, person: _takes(person, *row),
)


@means("SEN-01")
def _a_little_sensitive(person: Person) -> Is:
    return _one_of(person, "sensitivity", 1, 2, 3)


@means("SEN-02")
def _sensitive(person: Person) -> Is:
    return _one_of(person, "sensitivity", *range(4, 11))


@means("MUC-02")
def _watched_patch(person: Person) -> Is:
    return _worst(_flag(person, "soft_tissue", "suspicious"), _told(person, "mouth_cancer"))


@means("HSV-01")
def _cold_sore(person: Person) -> Is:
    told, seen = _told(person, "cold_sore"), _flag(person, "lips", "cold_sore")
    return told if seen is Is.OPEN else _told_then_seen(told, seen, person)


@means("PRV-01")
def _whitened_lately(person: Person) -> Is:
    if _value(person, "whitened_before") == "yes":
        return _since(person, "whitened_last_on", "PRV-01")
    return _told(person, "whitened_before")


@means("PRV-02")
def _it_hurt(person: Person) -> Is:
    before = _told(person, "whitened_before")
    return _told(person, "whitening_hurt") if before is Is.THERE else before


@means("PRV-03")
def _whitens_at_home(person: Person) -> Is:
    if _value(person, "whitening_now") == "stopped":
        return _since(person, "whitening_stopped_on", "PRV-03")
    return _one_of(person, "whitening_now", "now", "daily")


@means("PRV-04")
def _whitens_often(person: Person) -> Is:
    before = _told(person, "whitened_before")
    often = _told(person, "whitening_often") if before is Is.THERE else before
    return _worst(_one_of(person, "whitening_now", "daily"), often)


@means("HYG-01")
def _not_clean(person: Person) -> Is:
    long_ago = _one_of(person, "last_cleaning", "over_6_months", "never", "unsure")
    if person.looked is None or long_ago is Is.OPEN:
        return long_ago
    return _worst(long_ago, _flag(person, "deposits", "deposits"))


@means("SMK-01")
def _smokes(person: Person) -> Is:
    if _value(person, "smoking") in {"some", "vaping"}:
        return _told(person, "smoke_free_hard")
    return _one_of(person, "smoking", "many")


MEANS["ALC-01"] = lambda person: _one_of(person, "alcohol", "much")
MEANS["ERO-01"] = lambda person: _told(person, "acid_in_mouth")
MEANS["EXP-01"] = lambda person: _one_of(person, "hoped_for", "certain", "more")
# Without the table's own questionnaire: either of two questions, and a dentist.
MEANS["EXP-02"] = lambda person: _worst(_told(person, "look_in_the_way"), _told(person, "look_on_mind"))


@means("RSP-01")
def _short_of_breath(person: Person) -> Is:
    blocked, ticked = _ticked(person, "lying_back", "nose"), _value(person, "lying_back")
    asthma = isinstance(ticked, tuple) and "asthma" in ticked
    return _worst(blocked, _told(person, "asthma_troubles")) if asthma else blocked


@means("EPI-01")
def _fits(person: Person) -> Is:
    ticked = _value(person, "illnesses")
    if isinstance(ticked, tuple) and "epilepsy" in ticked and "unsure" not in ticked:
        return _since(person, "last_fit_on", "EPI-01")
    return _ticked(person, "illnesses", "epilepsy")
