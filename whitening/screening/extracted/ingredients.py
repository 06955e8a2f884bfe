"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("named most often in a review of reactions to light"),
    _("phenothiazine"),
    _("thiazide or related water tablet"),
    _("anti-inflammatory painkiller"),
    _("quinine or quinidine"),
    _("tetracycline antibiotic"),
    _("sulfonamide"),
    _("fluoroquinolone antibiotic"),
    _("psoralen, or an agent that light switches on"),
    _("reported in connection with light"),
    _("gold compound"),
    _("retinoid"),
    _("St John's wort"),
    _("no effect with light known here"),
)
