"""What a site still lacks of its local rules, in sentences for the Set-up list."""

from collections.abc import Iterator
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.dates import day_words
from clinic.accounts.models import Site
from clinic.accounts.setup_pages import SetupPage
from clinic.trail.clock import now
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.local_rules import rule_at
from whitening.screening.own_rules import is_behind
from whitening.screening.verdicts import facts_are_old


def of_local_rules(site: Site) -> list[str]:
    """That nobody has chosen yet whose rules hold is said beside the site's own page."""
    return to_do(site, today=now().astimezone(site.zone).date())


def to_do(site: Site, *, today: date) -> list[str]:
    """For Today as well. Looked up afresh: it is done as soon as somebody has checked."""
    place = rule_at(site)
    return [] if place is None else list(_to_do(place, today))


def _to_do(place: Jurisdiction, today: date) -> Iterator[str]:
    facts = {"place": str(place.name), "day": day_words(place.checked_on)}
    if place.practice_writes and place.own is None:
        yield _("%(place)s: write in what they say. Until then only a dentist carries it out.") % facts
    if is_behind(place):
        yield _("%(place)s: the program brought a newer row. Compare what your practice wrote with it.") % facts
    if facts_are_old(jurisdiction=place, today=today):
        yield _("%(place)s: checked on %(day)s, more than a year ago. Check the rules again.") % facts


PAGE = SetupPage(
    code="local_rules",
    title=gettext_lazy("Local rules, each with its source"),
    url_name="setup_local_rules",
    missing=of_local_rules,
    position=15,
)
