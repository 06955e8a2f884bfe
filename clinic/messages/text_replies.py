"""Whether texts may go to patients at a site: where local law wants replies to arrive, not before they do.

The list of countries is data with its sources. A practice may know better than the list, either way, and says so.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.models import Site
from clinic.accounts.setup_pages import SetupPage
from clinic.messages.channels import text
from clinic.messages.models import ReplyRule, TextReplies

_DATA = Path(__file__).resolve().parent / "data" / "text_replies.csv"


@dataclass(frozen=True, slots=True)
class CountryRule:
    """A country whose law wants an inbound route; one that is not listed wants none as far as we know."""

    country: str
    why: str
    source: str
    quality: str


@cache
def country_rules() -> Mapping[str, CountryRule]:
    with _DATA.open(encoding="utf-8", newline="") as file:
        rules = [CountryRule(**row) for row in csv.DictReader(file)]
    for rule in rules:
        if not (rule.why and rule.source and rule.quality):
            raise ValueError(f"{rule.country}: a rule names why, its source and how good that is.")
    return {rule.country: rule for rule in rules}


def said_of(site: Site) -> TextReplies | None:
    """What the practice has said; no query where it was read with the site."""
    held: TextReplies | None = getattr(site, "text_replies", None)
    return held


def are_needed(site: Site) -> bool:
    held = said_of(site)
    if held is not None and held.rule != ReplyRule.BY_COUNTRY:
        return held.rule == ReplyRule.NEEDED
    return site.country in country_rules()


def are_held_back(site: Site) -> bool:
    """No text goes to a patient of this site; a mail, a letter or a call does."""
    held = said_of(site)
    return are_needed(site) and (held is None or not held.number)


def missing(site: Site) -> list[str]:
    if not text.is_on() or not are_held_back(site):
        return []
    return [_("Texts to patients are held back: say on which number replies to them reach you.")]


PAGE = SetupPage(
    code="text_replies",
    title=gettext_lazy("Replies to texts"),
    url_name="text_replies",
    missing=missing,
    position=36,
    of_the_site=True,
)
