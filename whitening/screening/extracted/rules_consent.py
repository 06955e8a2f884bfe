"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("No valid consent for the plan in force"),
    _(
        "Consent comes out of a talk and before treatment. A signature under another plan is not a signature under this one."
    ),
    _("Talk the plan through, then sign and countersign it."),
    _("the plan in force is signed and not withdrawn"),
)
