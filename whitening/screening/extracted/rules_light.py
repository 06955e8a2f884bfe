"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Psoralen or another light-activating treatment"),
    _("It makes skin and mouth strongly sensitive to light, for days to three months depending on the agent."),
    _("Use no light and do not treat until the prescriber has named a date on which it ends."),
    _("the date that the prescriber gave in writing has passed"),
    _("Porphyria or xeroderma pigmentosum"),
    _("People with erythropoietic protoporphyria were burned by operating lights and react to light indoors."),
    _("No whitening light and no curing light near the gums without the specialist. Shield the chair light too."),
    _("a specialist's written plan"),
    _("An illness that light brings on: lupus, sun rash, solar urticaria, albinism"),
    _("Such illnesses head the lists of those who may not have light treatment."),
    _("No light. Whitening without light only when the dermatologist agrees."),
    _("the dermatologist agrees in writing, and the plan has no light"),
    _("A medicine that makes people sensitive to light"),
    _(
        "Reactions follow ultraviolet and sometimes visible light. A name on the list is only a hint: most medicines of the patient are on no list of this program."
    ),
    _(
        "Plan without a light, or have the prescriber agree in writing. Never tell a patient to stop a prescribed medicine."
    ),
    _("the plan has no light, or the prescriber agrees in writing"),
    _("A retinoid taken by mouth"),
    _("Retinoids belong to the medicines that react to light, and the lips dry out and tear at the mouth opener."),
    _("Plan without a light and protect the lips. Waiting for 30 days after the course is an option."),
    _("the plan has no light, or the course has ended"),
    _("St John's wort"),
    _("A herb that is listed among those which make people sensitive to light."),
    _("Plan without a light. If a prescriber is involved and agrees, 14 days after the last dose is an option."),
    _("the plan has no light"),
    _("Skin cancer of face or lips before"),
    _(
        "Practice forms leave out melanoma; in a 2009 test ultraviolet lamps gave up to four times the dose of a midsummer afternoon."
    ),
    _("Plan without a light."),
    _("An operated lens, or an illness of the retina"),
    _(
        "Blue light reaches the retina, an eye without its own lens keeps less of it out, and limits of exposure are reached within minutes beside some curing lights."
    ),
    _(
        "Plan without a light unless the eye doctor agrees. Cover the eyes with opaque shields, also while the barrier is cured."
    ),
    _("Opaque shields over the eyes, also while the barrier is cured."),
    _("the plan has no light, or the eye doctor agrees in writing"),
    _("Flashing light brings on fits or migraine"),
    _("Pulsed blue light may set one off."),
    _("Plan without a light, and cover the eyes while the barrier is cured."),
    _("Glasses or contact lenses"),
    _("Neither keeps the ultraviolet and blue light of a curing light away."),
    _("Have contact lenses taken out, and put filter eyewear on over the glasses."),
    _("the filter eyewear is on"),
)
