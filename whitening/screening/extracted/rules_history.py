"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("A course of whitening in the last 6 months"),
    _("About once a year is enough, says a dental association's spokesman; treating again adds unwanted effects."),
    _("Wait until 180 days have passed. Topping up earlier is a dentist's decision."),
    _("180 days since the last course"),
    _("Whitening at home at the same time"),
    _("The doses add up, and the starting colour is not steady."),
    _("Stop the whitening at home and wait 14 days."),
    _("14 days without whitening at home"),
    _("No cleaning in the last 6 months, or stain or calculus on the teeth"),
    _("Deposits keep the gel off and falsify the shade; the EU opinion asks for clean surfaces."),
    _("Have the teeth cleaned first, then take the starting shade."),
    _("cleaned"),
    _("Cleaned in the last 7 days"),
    _("Two practices want 14 days for the gums to recover, another none; no trial was found."),
    _("Where the gums are tender or bleed, wait until day 14. Otherwise the dentist decides."),
    _("14 days since the cleaning, or the dentist finds the gums in order"),
    _("Earlier whitening hurt or burned"),
    _("What happened once is likely to happen again."),
    _("Read the old record. Plan a weaker gel, or none."),
    _("what is done about it stands in the plan"),
    _("Whitens very often"),
    _("Whitening that does not stop is described, also as a compulsion."),
    _("Talk about what is hoped for; see the findings about expectation."),
    _("talked about"),
)
