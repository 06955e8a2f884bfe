"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("The list of medicines has not been checked"),
    _(
        "393 medicines are reported to make people sensitive to light, with very uneven evidence. Whether a light may be used depends on the list."
    ),
    _(
        "Read the list with the patient and record that it was checked. Never tell a patient to stop a prescribed medicine."
    ),
    _("the list is recorded and checked"),
    _("A painkiller that must not be taken"),
    _("What is handed out afterwards must not name a medicine that this patient cannot take."),
    _("Name no painkiller on paper: pain relief goes through the clinician."),
    _("written where the advice is given"),
    _("Diabetes, weak defences or slow healing"),
    _(
        "A burn from peroxide would heal badly. One practice leaves out diabetes and heart disease altogether and gives no reason; nobody else was found to."
    ),
    _("Ask how well it is controlled, and treat only where the gums are healthy."),
    _("a dentist decides"),
    _("Cancer under treatment, or radiotherapy to head or neck"),
    _("The lining of the mouth is sore or dry then and heals badly."),
    _("Put it off until oncologist and dentist agree."),
    _("the oncologist agrees in writing"),
)
