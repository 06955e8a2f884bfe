"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("A jaw that clicks, hurts at times or does not open wide"),
    _("The mouth stays open for long. Forms of practices list the jaw among the risks."),
    _("A break every 15 minutes, a smaller mouth opener, fewer cycles."),
    _("A break every 15 minutes, and a smaller mouth opener."),
    _("what is done about it stands in the plan"),
    _("A jaw that is locked or hurts now"),
    _("Holding it open for long would make it worse."),
    _("Treat the jaw first; 28 days unless the dentist says otherwise."),
    _("the mouth opens freely"),
    _("Gags easily"),
    _("Gel and water come close to the throat."),
    _("Chair upright, one arch at a time, suction at hand."),
    _("No free breath through the nose, or asthma that gives trouble"),
    _("The mouth is held open, and the vapour irritates."),
    _("Put it off until the breath is free, 7 days unless the clinician says otherwise. An inhaler lies at the chair."),
    _("the nose is clear and the asthma quiet"),
    _("Epilepsy, with a fit in the last 3 months"),
    _("In a fit the mouth is propped open and caustic gel lies in it."),
    _(
        "Wait until 3 months have passed without a fit, or the doctor agrees. Somebody comes along, and no pulsed light."
    ),
    _("3 months without a fit, or the doctor agrees"),
    _("Trouble with swallowing or lying back"),
    _("Gel could be breathed in."),
    _("The dentist decides; upright only."),
    _("a dentist decides"),
)
