"""What will look otherwise afterwards, and what needs a hand at the chair: examined, and seldom a reason not to."""

from whitening.screening.examination import Item, Look, Trouble
from whitening.screening.rules.readings import Reading, Seen, fires, found, on_teeth

NOTHING = Look()


def _look(seen: Seen) -> Look:
    return seen.examination.look if seen.examination else NOTHING


@fires("RES-02")
def restoration_that_shows(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.RESTORATIONS, trouble=Trouble.SHOWS_RESTORATION)


@fires("RES-03")
def adhesive_work_soon(seen: Seen) -> Reading:
    return found(seen, item=Item.RESTORATIONS, present=_look(seen).adhesive_work_soon)


@fires("RES-05")
def acrylic(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.RESTORATIONS, trouble=Trouble.ACRYLIC)


@fires("RES-06")
def amalgam(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.RESTORATIONS, trouble=Trouble.AMALGAM)


@fires("CRK-02")
def craze_lines(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.CRACKS, trouble=Trouble.CRAZE_LINES)


@fires("DEN-01")
def dentine_that_can_be_covered(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.DENTINE, trouble=Trouble.BARE_DENTINE)


@fires("PUL-02")
def dark_tooth(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.COLOUR, trouble=Trouble.DARK_TOOTH)


@fires("STN-02")
def flecks(seen: Seen) -> Reading:
    return on_teeth(seen, item=Item.ENAMEL, trouble=Trouble.FLECKS)


@fires("STN-03")
def inherited_defect(seen: Seen) -> Reading:
    return found(seen, item=Item.ENAMEL, present=_look(seen).defect)


@fires("STN-04")
def grey(seen: Seen) -> Reading:
    return found(seen, item=Item.COLOUR, present=_look(seen).grey)


@fires("STN-05")
def light_already(seen: Seen) -> Reading:
    return found(seen, item=Item.COLOUR, present=_look(seen).light)
