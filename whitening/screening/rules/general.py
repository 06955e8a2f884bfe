"""Habits, the jaw, the breath, and what is hoped for. Sources stand in data/rules."""

from dataclasses import replace

from whitening.screening.rules.readings import Present, Reading, Seen, chosen, fires, first_of, picked, said, until


@fires("SMK-01")
def heavy_smoking(seen: Seen) -> Reading:
    heavy = chosen(seen, "smoking", "many")
    if seen.value("smoking") in {"some", "vaping"}:
        return said(seen, "smoke_free_hard")
    return heavy


@fires("ALC-01")
def much_alcohol(seen: Seen) -> Reading:
    return chosen(seen, "alcohol", "much")


@fires("BRX-01")
def grinding(seen: Seen) -> Reading:
    return picked(seen, "jaw", "grinding")


@fires("TMJ-01")
def tender_jaw(seen: Seen) -> Reading:
    return picked(seen, "jaw", "clicks", "narrow")


@fires("TMJ-02")
def locked_jaw(seen: Seen) -> Reading:
    return picked(seen, "jaw", "locked")


@fires("GAG-01")
def gagging(seen: Seen) -> Reading:
    return picked(seen, "lying_back", "gagging")


@fires("SWL-01")
def swallowing(seen: Seen) -> Reading:
    return picked(seen, "lying_back", "swallowing", "posture")


@fires("RSP-01")
def breath(seen: Seen) -> Reading:
    """Asthma that is quiet does not stand in the way; the inhaler lies at the chair all the same."""
    blocked = picked(seen, "lying_back", "nose")
    return first_of(blocked, said(seen, "asthma_troubles")) if _ticked(seen, "lying_back", "asthma") else blocked


@fires("EPI-01")
def epilepsy(seen: Seen) -> Reading:
    """Ends by the date of the last fit; whoever is unsure about the page leaves it to a person to decide."""
    if _ticked(seen, "illnesses", "epilepsy") and not _ticked(seen, "illnesses", "unsure"):
        return until(seen, "last_fit_on")
    told = picked(seen, "illnesses", "epilepsy")
    return replace(told, not_before=None) if isinstance(told, Present) else told


def _ticked(seen: Seen, name: str, option: str) -> bool:
    value = seen.value(name)
    return isinstance(value, tuple) and option in value


@fires("EXP-01")
def hopes_for_more(seen: Seen) -> Reading:
    return chosen(seen, "hoped_for", "certain", "more")


@fires("EXP-02")
def worries_about_looks(seen: Seen) -> Reading:
    """Either answer is enough for a talk: a dentist judges, not the number of answers."""
    return first_of(said(seen, "look_in_the_way"), said(seen, "look_on_mind"))
