"""Pregnancy, allergies, metabolism, medicines, light: what the patient tells. Sources stand in data/rules."""

from whitening.screening.examination import Item
from whitening.screening.grades import AnsweredBy
from whitening.screening.rules.readings import (
    ABSENT,
    Open,
    Present,
    Reading,
    Seen,
    based_on,
    examined_as,
    fires,
    first_of,
    said,
)


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


@fires("ALG-01")
def peroxide_allergy(seen: Seen) -> Reading:
    return said(seen, "reacted_to_peroxide")


@fires("ALG-02")
def acrylate_allergy(seen: Seen) -> Reading:
    return said(seen, "reacted_to_resin")


@fires("MET-01")
def acatalasaemia(seen: Seen) -> Reading:
    return first_of(said(seen, "acatalasaemia"), said(seen, "no_fizz"))


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


@fires("LGT-07")
def skin_cancer(seen: Seen) -> Reading:
    return said(seen, "skin_cancer")


@fires("LGT-09")
def fits_from_light(seen: Seen) -> Reading:
    return said(seen, "flashing_lights")


@fires("SEN-02")
def sensitive_teeth(seen: Seen) -> Reading:
    """4 of 10 and more: where pain begins to count as moderate."""
    answer = seen.answer("sensitivity")
    if answer is None:
        return Open(AnsweredBy.PATIENT)
    # Cut points of studies differ: 4 or 5 between mild and moderate. The cautious one is taken.
    if not isinstance(answer.value, int) or answer.value < 4:
        return ABSENT
    return Present(based_on("sensitivity", answer), not_before=seen.wait_from(answer.given_on))
