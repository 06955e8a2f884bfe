"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Pregnant, or may be"),
    _(
        "Nothing is known about safety and the treatment can wait. The paediatric academy discourages it in pregnancy and an EU committee wanted a warning."
    ),
    _("Postpone until after the birth, then ask about breastfeeding."),
    _("after the birth, or the patient says that they are not pregnant"),
    _("Breastfeeding"),
    _("There are no studies. Most practice lists leave it out, some clinicians allow it: the sources disagree."),
    _("Postpone until feeding has ended, or decide together with the patient and record why."),
    _("feeding has ended, or a dentist decides"),
    _("Trying for a baby, or in fertility treatment"),
    _("Nothing is known. Some practices carry the advice for pregnancy over to the time before it."),
    _("Ask whether a test is wanted first. The dentist decides and writes it down."),
    _("a dentist decides"),
)
