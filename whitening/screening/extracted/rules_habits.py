"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Heavy smoking, or no pause of 48 hours in sight"),
    _(
        "Colour and sensitivity come out much the same in smokers at first, a little darker after a month. EU bodies warn of peroxide together with tobacco."
    ),
    _("Agree on 48 hours without smoke before a day is booked, or offer another day."),
    _("48 hours without smoke are agreed"),
    _("Much alcohol"),
    _("The EU opinion names alcohol beside tobacco as something that makes it worse."),
    _("Look at the lining of the mouth, and advise."),
    _("looked at and talked about"),
    _("Grinding or clenching"),
    _("Cracked teeth and thin enamel hurt more."),
    _("Look for cracks and wear. Think of a splint afterwards."),
    _("looked for cracks and wear"),
)
