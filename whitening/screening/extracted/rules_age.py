"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Under the age that the law sets here, on the day of treatment"),
    _(
        "Where the law sets an age, nobody below it is treated, supervised or not. For products from 0.1 to 6 % it is 18."
    ),
    _(
        "Do not plan whitening. If a dentist thinks treatment is needed for disease, that is a separate route outside this program."
    ),
    _("the birthday on which the age of the local rules is reached"),
    _("Under the age that this practice plans for, on the day of treatment; no law sets it"),
    _(
        "No such age was found in law here. The paediatric academy asks for a professional examination first; this program plans for adults only, and a practice may ask for more years."
    ),
    _(
        "Wait for the birthday that the local rules name. If a dentist thinks treatment is needed for disease, that is a separate route outside this program."
    ),
    _("Milk teeth in the area to be whitened"),
    _(
        "Whitening a whole arch is discouraged while milk teeth stand: the pulps are large, and the colours part again when the adult teeth come."
    ),
    _("Do not whiten the arch."),
    _("an examination finds adult teeth only"),
)
