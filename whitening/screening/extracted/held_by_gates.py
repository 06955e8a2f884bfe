"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Language, capacity or a guardian in question"),
    _(
        "An interpreter who is wanted is recorded with the talk; who cannot decide for themselves does not sign, and without a signature nothing starts."
    ),
    _("Answers older than 30 days, or something new since"),
    _("Old answers are asked anew, and the list of the day is gone through on each day of treatment."),
)
