"""Pregnancy, allergies, metabolism, medicines, light: what the patient tells. Sources stand in data/rules."""

from whitening.screening.examination import Item
from whitening.screening.grades import AnsweredBy
from whitening.screening.ingredients import Effect, with_effect
from whitening.screening.rules.readings import (
    ABSENT,
    Open,
    Present,
    Reading,
    Seen,
    chosen,
    examined_as,
    fires,
    first_of,
    picked,
    said,
)

# Cut points of studies differ: 4 or 5 between mild and moderate pain. The cautious one is taken.
MODERATE = 4


def _if_it_may_apply(seen: Seen, name: str) -> Reading:
    """A patient who would rather talk about it in private has not answered yet."""
    match seen.value("pregnancy_may_apply"):
        case "no":
            return ABSENT
        case "yes":
            return said(seen, name)
        case _:
            return Open(AnsweredBy.PATIENT if seen.answer("pregnancy_may_apply") is None else AnsweredBy.CLINICIAN)


@fires("PRG-01")
def pregnant(seen: Seen) -> Reading:
    return _if_it_may_apply(seen, "pregnant")


@fires("PRG-02")
def breastfeeding(seen: Seen) -> Reading:
    return _if_it_may_apply(seen, "breastfeeding")


@fires("PRG-03")
def trying_for_a_baby(seen: Seen) -> Reading:
    return _if_it_may_apply(seen, "trying_for_a_baby")


@fires("ALG-01")
def peroxide_allergy(seen: Seen) -> Reading:
    return said(seen, "reacted_to_peroxide")


@fires("ALG-02")
def acrylate_allergy(seen: Seen) -> Reading:
    return said(seen, "reacted_to_resin")


@fires("ALG-03")
def latex_allergy(seen: Seen) -> Reading:
    return picked(seen, "allergies", "latex")


@fires("ALG-04")
def colophony_allergy(seen: Seen) -> Reading:
    return picked(seen, "allergies", "colophony")


@fires("ALG-05")
def other_allergy(seen: Seen) -> Reading:
    """What it is helps the clinician; that there is one is enough for the rule."""
    return picked(seen, "allergies", "other")


@fires("MED-02")
def no_painkiller(seen: Seen) -> Reading:
    return picked(seen, "allergies", "painkiller")


@fires("MET-01")
def acatalasaemia(seen: Seen) -> Reading:
    return first_of(said(seen, "acatalasaemia"), said(seen, "no_fizz"))


@fires("MET-02")
def g6pd_deficiency(seen: Seen) -> Reading:
    return picked(seen, "illnesses", "g6pd")


@fires("MET-03")
def heals_badly(seen: Seen) -> Reading:
    return picked(seen, "illnesses", "diabetes", "healing")


@fires("MET-04")
def cancer_care(seen: Seen) -> Reading:
    return picked(seen, "illnesses", "cancer_care", "radiotherapy")


@fires("MED-01")
def medicines_unchecked(seen: Seen) -> Reading:
    """A list that grew after somebody had read it has not been read."""
    answer = seen.answer("medicines")
    if answer is None:
        return Open(AnsweredBy.PATIENT)
    # Takes none: there is nothing to match, so nobody has to read it.
    if not answer.value:
        return ABSENT
    examination = seen.looked(Item.MEDICINES)
    if examination and examination.examined_at >= answer.given_at:
        return Present(examined_as(Item.MEDICINES, examination), examined=True)
    # Not the list itself: names of medicines do not belong into a decision's basis.
    return Present(f"medicines@{answer.given_at.isoformat()}")


@fires("LGT-01")
def light_treatment(seen: Seen) -> Reading:
    return said(seen, "light_treatment")


@fires("LGT-02")
def porphyria(seen: Seen) -> Reading:
    return said(seen, "porphyria")


@fires("LGT-03")
def illness_from_light(seen: Seen) -> Reading:
    return said(seen, "sun_illness")


def _takes(seen: Seen, effect: Effect) -> Reading:
    """Said, or recognised in the list. Nothing recognised says nothing: somebody reads the list (MED-01)."""
    told = picked(seen, "light_medicines", effect)
    answer = seen.answer("medicines")
    lines = answer.value if answer and isinstance(answer.value, tuple) else ()
    if answer is None or not with_effect(lines, effect):
        return told
    # Not the names themselves: they do not belong into a decision's basis.
    return first_of(told, Present(f"medicines:{effect}@{answer.given_at.isoformat()}"))


@fires("LGT-04")
def light_medicine(seen: Seen) -> Reading:
    return _takes(seen, Effect.LIGHT)


@fires("LGT-05")
def retinoid(seen: Seen) -> Reading:
    return _takes(seen, Effect.RETINOID)


@fires("LGT-06")
def st_johns_wort(seen: Seen) -> Reading:
    return _takes(seen, Effect.HYPERICUM)


@fires("LGT-07")
def skin_cancer(seen: Seen) -> Reading:
    return said(seen, "skin_cancer")


@fires("LGT-09")
def fits_from_light(seen: Seen) -> Reading:
    return said(seen, "flashing_lights")


@fires("LGT-08")
def eye_illness(seen: Seen) -> Reading:
    return picked(seen, "eyes", "lens", "retina")


@fires("LGT-10")
def glasses(seen: Seen) -> Reading:
    return picked(seen, "eyes", "glasses", "contact_lenses")


@fires("SEN-01")
def slightly_sensitive_teeth(seen: Seen) -> Reading:
    return chosen(seen, "sensitivity", *range(1, MODERATE))


@fires("SEN-02")
def sensitive_teeth(seen: Seen) -> Reading:
    """4 of 10 and more: where pain begins to count as moderate."""
    return chosen(seen, "sensitivity", *range(MODERATE, 11))
