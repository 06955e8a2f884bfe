"""Teeth and gums: the patient's word raises a finding, the examination settles it. Sources stand in data/rules."""

from dataclasses import replace
from datetime import date

from whitening.screening.examination import Item, Periodontitis, Trouble
from whitening.screening.rules.readings import (
    Present,
    Reading,
    Seen,
    fires,
    first_of,
    found,
    healed_since,
    not_asked,
    on_teeth,
    picked,
    said,
    said_then_found,
    until,
)


def _teeth_with(seen: Seen, trouble: Trouble) -> tuple[str, ...]:
    return seen.in_field(seen.examination.with_trouble(trouble)) if seen.examination else ()


@fires("CAR-01")
def decay(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.DECAY, trouble=Trouble.DECAY)


@fires("RES-01")
def faulty_filling(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.RESTORATIONS, trouble=Trouble.FAULTY_RESTORATION)


def _waits(seen: Seen) -> dict[str, date]:
    """Teeth of the field with a dated filling or crown, and the day on which its waiting time is over."""
    if seen.examination is None:
        return {}
    waits = {row.number: seen.wait_from(row.restored_on) for row in seen.examination.teeth if row.restored_on}
    return {number: waits[number] for number in seen.in_field(tuple(waits))}


@fires("RES-04")
def fresh_filling(seen: Seen) -> Reading:
    """Its event is a date, so it ends by itself on the 14th day. Its basis is the same on every day."""
    waits = _waits(seen)
    fresh = tuple(number for number, until in waits.items() if seen.today < until)
    told = said_then_found(seen, name="filling_lately", item=Item.RESTORATIONS, present=bool(fresh), teeth=tuple(waits))
    if not isinstance(told, Present):
        return told
    # A date in the record is better than "in the last two weeks".
    if fresh:
        return replace(told, teeth=fresh, not_before=max(waits.values()))
    if told.not_before and seen.today >= told.not_before:
        return found(seen, item=Item.RESTORATIONS, present=False)
    return told


@fires("CRK-01")
def painful_crack(seen: Seen) -> Reading:
    teeth = _teeth_with(seen, Trouble.PAINFUL_CRACK)
    return said_then_found(seen, name="hurts_on_biting", item=Item.CRACKS, present=bool(teeth), teeth=teeth)


@fires("DEN-02")
def bare_dentine(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.DENTINE, trouble=Trouble.BARE_DENTINE_NOT_COVERABLE)


@fires("PUL-01")
def sick_pulp(seen: Seen) -> Reading:
    teeth = _teeth_with(seen, Trouble.SICK_PULP)
    return said_then_found(seen, name="toothache", item=Item.PULP, present=bool(teeth), teeth=teeth)


@fires("PUL-03")
def knocked_tooth(seen: Seen) -> Reading:
    """A look before the 90 days are over cannot say that the pulp lives; a dentist may decide that it does."""
    sick = bool(_teeth_with(seen, Trouble.SICK_PULP))
    return healed_since(seen, _on_the_day_of(seen, name="knocked_on", wanted=("knock",)), item=Item.PULP, still=sick)


def _on_the_day_of(seen: Seen, *, name: str, wanted: tuple[str, ...]) -> Reading:
    """Something that happened lately, with the pause counted from the day that the patient named."""
    told, answer = picked(seen, "mouth_lately", *wanted), seen.answers.given.get("mouth_lately")
    if not isinstance(told, Present) or answer is None or not isinstance(answer.value, tuple):
        return told
    ticked, day = [one for one in answer.value if one in wanted], seen.answer(name)
    # Not sure about the page: a day may stand for part of it only, so the longest pause runs from when it was said.
    if "unsure" in answer.value:
        return replace(told, not_before=seen.rule.clears.over_on(answer.given_on, of=wanted))
    if day is None or not isinstance(day.value, date):
        return not_asked(name)
    return replace(told, not_before=seen.rule.clears.over_on(day.value, of=ticked))


@fires("STN-01")
def tetracycline(seen: Seen) -> Reading:
    return said(seen, "tetracycline")


@fires("ERO-01")
def acid(seen: Seen) -> Reading:
    return said(seen, "acid_in_mouth")


@fires("ORT-01")
def braces(seen: Seen) -> Reading:
    """While they are on no date can end it; once off, 30 days do."""
    on = picked(seen, "worn_in_mouth", "braces")
    if isinstance(on, Present):
        return replace(on, not_before=None)
    ticked = seen.value("worn_in_mouth")
    return until(seen, "braces_off_on") if isinstance(ticked, tuple) and "braces_off" in ticked else on


@fires("ORT-02")
def aligner_buttons(seen: Seen) -> Reading:
    return picked(seen, "worn_in_mouth", "buttons")


@fires("IMP-01")
def implant_or_denture(seen: Seen) -> Reading:
    return picked(seen, "worn_in_mouth", "implant", "denture")


@fires("PIE-01")
def piercing(seen: Seen) -> Reading:
    return picked(seen, "worn_in_mouth", "piercing")


@fires("MUC-03")
def diseased_lining(seen: Seen) -> Reading:
    return picked(seen, "mouth_lining", "lichen_planus", "pemphigoid", "burning")


@fires("DRY-01")
def dry_mouth(seen: Seen) -> Reading:
    return picked(seen, "mouth_lining", "dry")


@fires("SUR-01")
def operated_mouth(seen: Seen) -> Reading:
    sore = bool(seen.examination and seen.examination.soft_tissue.sore)
    told = _on_the_day_of(seen, name="mouth_operated_on", wanted=("extraction", "surgery"))
    return healed_since(seen, told, item=Item.SOFT_TISSUE, still=sore)


def _gums_inflamed(seen: Seen) -> bool:
    return bool(seen.examination and seen.examination.gums.inflamed)


@fires("PER-01")
def inflamed_gums(seen: Seen) -> Reading:
    return said_then_found(seen, name="gums_bleed", item=Item.GUMS, present=_gums_inflamed(seen))


@fires("PER-02")
def periodontitis(seen: Seen) -> Reading:
    active = bool(seen.examination and seen.examination.gums.periodontitis is Periodontitis.ACTIVE)
    return said_then_found(seen, name="gum_disease", item=Item.GUMS, present=active)


@fires("MUC-01")
def sore_mouth(seen: Seen) -> Reading:
    sore = bool(seen.examination and seen.examination.soft_tissue.sore)
    return said_then_found(seen, name="mouth_sore", item=Item.SOFT_TISSUE, present=sore)


@fires("MUC-02")
def suspicious_patch(seen: Seen) -> Reading:
    """A history is not settled by a clean look today: only a specialist's letter does that."""
    suspicious = bool(seen.examination and seen.examination.soft_tissue.suspicious)
    return first_of(found(seen, item=Item.SOFT_TISSUE, present=suspicious), said(seen, "mouth_cancer"))


@fires("HSV-01")
def cold_sore(seen: Seen) -> Reading:
    """The patient's no is enough here; a look at the lips is not waited for, but counts when it was taken."""
    there = bool(seen.examination and seen.examination.soft_tissue.cold_sore)
    if seen.looked(Item.LIPS) is None:
        return said(seen, "cold_sore")
    return said_then_found(seen, name="cold_sore", item=Item.LIPS, present=there)


@fires("LIP-01")
def cracked_lips(seen: Seen) -> Reading:
    cracked = bool(seen.examination and seen.examination.soft_tissue.cracked_lips)
    return found(seen, item=Item.LIPS, present=cracked)
