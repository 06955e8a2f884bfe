"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Acatalasaemia, known or suspected"),
    _(
        "Without catalase peroxide is not broken down: blood darkens, gums ulcerate and die. About 2 in 100,000 in Japan, families elsewhere."
    ),
    _("Use no peroxide. When it is only suspected, refer for the enzyme test."),
    _("the enzyme test is normal"),
    _("An inherited lack of G6PD"),
    _(
        "The body has less to set against oxidants. The EU opinion names inherited weakness in a heading; its text was not seen."
    ),
    _("The dentist decides: a weak gel and tight isolation, or none at all. Ask the patient's doctor."),
    _("a dentist decides"),
)
