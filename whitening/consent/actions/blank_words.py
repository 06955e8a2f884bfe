"""Which words stand on a blank form that somebody signed: the mark at its foot says so, and nothing else can."""

from datetime import datetime

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.languages import name_of
from whitening.consent import versions
from whitening.consent.models import Talk
from whitening.consent.wording import Wording


def why_not_these_words(wording: Wording | None, *, talk: Talk, before: datetime) -> StrOrPromise | None:
    """before: the end of the day beside the signature."""
    if wording is None or not versions.was_in_use(wording, before=before):
        return _(
            "No form with this wording was in use here by the day beside the signature. Compare it with the foot of "
            "the page; if it is the same there, print the form anew and let that one be signed."
        )
    if wording.language != talk.language:
        return _(
            "The talk says that the consent is read in %(wanted)s, and this form is in %(printed)s. Print it in that "
            "language, or talk it through again and say in which language it is read."
        ) % {"wanted": name_of(talk.language), "printed": name_of(wording.language)}
    if not versions.is_checked(wording):
        return _("Nobody is recorded who checked this translation. Nobody signs with it until then.")
    return None
