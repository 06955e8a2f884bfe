"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Hopes for a certain shade, or for more than the plan can bring"),
    _(
        "Results differ from person to person. An Australian board wants hopes to be realistic before any treatment begins."
    ),
    _("Talk once more with the shade tabs in hand, after 7 days, and write into the consent what is hoped for."),
    _("what can be hoped for is agreed in writing"),
    _("Worries much about how the teeth look"),
    _(
        "Of 213 patients of a practice 16 % worried very much in a questionnaire, and the disorder itself was put at 4 to 7 %. Treatment seldom brings peace then; a UK paper advises to ask before cosmetic work. These two questions are our own and measure nothing."
    ),
    _(
        "A kind talk, the offer of a referral, and nothing on the same day. Whether it goes on is the dentist's judgement."
    ),
    _("a dentist judges so, after a referral was offered"),
)
