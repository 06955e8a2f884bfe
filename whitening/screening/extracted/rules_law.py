"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("The planned gel is stronger than the rules here allow"),
    _(
        "Where a cap exists it counts the hydrogen peroxide that is present or released as used, so carbamide counts by what it releases."
    ),
    _("Choose a gel within the limit. The plan cannot be kept with this one."),
    _("the plan names a gel within the limit"),
    _("The person at the chair may not carry this out here, or the prescription is missing"),
    _(
        "Above 0.1 % whitening belongs to dentists, or to the professions named under them; courts have treated it as dentistry."
    ),
    _("Name somebody who may carry it out and, where it is needed, who prescribed it."),
    _("somebody who may, and the prescriber, are recorded"),
    _("No examination is recorded for this course"),
    _(
        "The first use of each course follows an examination that rules out risk factors and oral disease. A new course needs a new one."
    ),
    _("Book the examination first."),
    _("somebody who may examine here records an examination in this course"),
)
