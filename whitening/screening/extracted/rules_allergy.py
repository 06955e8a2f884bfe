"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Allergy to peroxide, known or suspected"),
    _("The active agent itself: no gel is without it."),
    _("Use no peroxide gel. Refer when the diagnosis is unclear."),
    _("an allergist rules it out in writing"),
    _("Allergy to acrylates, known or suspected"),
    _(
        "The light-cured barrier is a methacrylate resin. Of 1322 dental patients tested by patch 2.3 % reacted; a wearer of gel nails swelled after dental resin."
    ),
    _("Use no light-cured barrier: plan isolation without resin or another technique, and offer a patch test."),
    _("a patch test is negative"),
    _("Allergy to latex"),
    _("Gloves, dams, bands and mouth openers may hold latex."),
    _("Lay out a tray without latex. After a severe reaction in the past: the first visit of the day."),
    _("A tray without latex."),
    _("the tray is checked and free of latex"),
    _("Allergy to colophony"),
    _("It is not in the gel, but in many fluoride varnishes that are put on against sensitive teeth."),
    _("Use no varnish with colophony afterwards."),
    _("No varnish with colophony."),
    _("a desensitiser without colophony is on the tray"),
    _("Another allergy"),
    _("What is added to gels, barriers and desensitisers differs from product to product."),
    _("Compare it with the list of ingredients and the safety data sheet of everything on the tray."),
    _("Compare everything on the tray with the allergies on record."),
    _("compared with everything on the tray"),
)
