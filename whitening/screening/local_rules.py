"""The local rule in force at a site: what the program ships, with what the practice wrote over it."""

from collections.abc import Iterable, Mapping

from clinic.accounts.models import Site
from whitening.screening.grades import Quality
from whitening.screening.jurisdictions import Jurisdiction, OwnRow, jurisdictions
from whitening.screening.models import LocalRuleChange
from whitening.screening.own_rules import in_force

_REMEMBERED = "_own_row_in_force"


def rule_at(site: Site) -> Jurisdiction | None:
    """None until somebody has chosen whose rules hold there. One short query, unless the site was `remembered`."""
    if _REMEMBERED in site.__dict__:
        return in_force(site.jurisdiction, site.__dict__[_REMEMBERED])
    return rule_of(site.jurisdiction)


def rule_of(code: str) -> Jurisdiction | None:
    return in_force(code, own_row(code)) if code else None


def all_rules() -> list[Jurisdiction]:
    """Every place that the program knows, as it holds here. One query."""
    held = own_rows(jurisdictions())
    found = [in_force(code, held.get(code)) for code in jurisdictions()]
    return [place for place in found if place is not None]


def remembered(sites: Iterable[Site]) -> None:
    """For pages of many cases, read together with them: afterwards `rule_at` asks nothing. One query."""
    there = list(sites)
    held = own_rows({site.jurisdiction for site in there})
    for site in there:
        site.__dict__[_REMEMBERED] = held.get(site.jurisdiction)


def own_rows(codes: Iterable[str]) -> Mapping[str, OwnRow]:
    """The newest of each code; a later row of the same code replaces the earlier one."""
    rows = LocalRuleChange.objects.filter(code__in=list(codes)).order_by("code", "version")
    return {row.code: as_own_row(row) for row in rows}


def own_row(code: str) -> OwnRow | None:
    row = newest_change(code)
    return None if row is None else as_own_row(row)


def newest_change(code: str) -> LocalRuleChange | None:
    return LocalRuleChange.objects.filter(code=code).select_related("changed_by").order_by("version").last()


def as_own_row(row: LocalRuleChange) -> OwnRow:
    return OwnRow(
        version=row.version,
        values=row.values,
        made_over=row.made_over,
        reason=row.reason,
        source=row.source,
        quality=Quality(row.quality),
        checked_on=row.checked_on,
    )


def rule_as_it_was(code: str, version: str) -> Jurisdiction | None:
    """By the version that a plan keeps: the shipped row's, and after the point the practice's own."""
    shipped, _point, own = version.partition(".")
    if not own:
        return in_force(code, None, version=shipped)
    if not (own.isascii() and own.isdecimal() and len(own) < 9):
        return None
    row = LocalRuleChange.objects.filter(code=code, version=int(own)).first()
    return None if row is None else in_force(code, as_own_row(row), version=shipped)
