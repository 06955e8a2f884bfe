"""The questions of "How are you?", the same for patients and for staff who type on the telephone."""

from django.utils.translation import gettext_lazy as _

VERSION = "1"
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
YES_NO = [("yes", _("yes")), ("no", _("no"))]
SATISFACTION = [
    (1, _("very unhappy")),
    (2, _("unhappy")),
    (3, _("neither")),
    (4, _("happy")),
    (5, _("very happy")),
]
