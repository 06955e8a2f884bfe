"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("European Union"),
    _("present or released, as used"),
    _(
        "The Official Journal text itself was not seen. Member states narrow it further. Who may work under supervision is this program's cautious reading: ask the dental council."
    ),
    _("United Kingdom"),
    _(
        "The regulator leaves an exception under 18 for use wholly to treat or prevent disease: a separate route outside this program."
    ),
    _("United States"),
    _("as used"),
    _(
        "That no cap and no age stand in law is from memory. Who may carry it out is this program's cautious reading: ask the state board."
    ),
)
