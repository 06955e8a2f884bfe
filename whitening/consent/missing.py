"""What is missing of the consent's words, in sentences for the Set-up list."""

from collections.abc import Iterator

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.languages import complete, name_of
from clinic.accounts.models import Site
from clinic.accounts.setup_pages import SetupPage
from whitening.consent import versions


def of_wording(_site: Site) -> list[str]:
    """The words are the whole practice's. Languages that the program does not speak yet are nobody's to-do."""
    return list(_to_do())


def _to_do() -> Iterator[str]:
    for language in sorted(complete()):
        wording = versions.in_use(language)
        if wording is None:
            continue
        facts = {"language": name_of(language)}
        if not versions.is_checked(wording):
            yield _("%(language)s: record who checked the translation. Until then nobody signs in it.") % facts
        if versions.is_behind(wording):
            yield _("%(language)s: the program brought newer words than those in use. Compare the two.") % facts


PAGE = SetupPage(
    code="consent_wording",
    title=gettext_lazy("Words of the consent, and who checked a translation"),
    url_name="setup_wording",
    missing=of_wording,
    position=35,
)
