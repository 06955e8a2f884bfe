"""The questions of "How are you?", the same for patients and for staff who type on the telephone."""

from django.utils.translation import gettext_lazy as _

VERSION = "2"
# The questions as headings, for staff who read the answers.
SHORT = {
    "swelling": _("Swelling, breathing, rash"),
    "eye": _("Eyes"),
    "sensitivity": _("Sensitivity, 0 to 10"),
    "worst": _("At its worst, 0 to 10"),
    "falling": _("Getting less"),
    "woke_at_night": _("Woke at night"),
    "one_tooth": _("One single tooth"),
    "gums": _("Gums and lips"),
    "painkillers": _("Painkillers"),
    "smoke": _("Smoke-free since"),
    "satisfaction": _("How happy"),
    "call_me": _("Wants a call"),
}
GUMS = [
    ("fine", _("fine")),
    ("white_fading", _("a white patch that is fading")),
    ("raw", _("sore, raw, blistered, bleeding or getting worse")),
]
PAINKILLERS = [
    ("none", _("no")),
    ("by_the_label", _("yes, as the label says")),
    ("more_or_still", _("yes, more than the label says, or I still need them")),
]
SMOKE = [
    ("free", _("yes")),
    ("smoked", _("no, I smoked or vaped")),
    ("never", _("I never do")),
]
YES_NO = [("yes", _("yes")), ("no", _("no"))]
SATISFACTION = [
    (1, _("very unhappy")),
    (2, _("unhappy")),
    (3, _("neither")),
    (4, _("happy")),
    (5, _("very happy")),
]
