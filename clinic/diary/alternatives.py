"""Sooner times that some wish stands against: found only when there is one, to be offered and never taken unasked."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site
from clinic.diary.openings import ANY_TIME, Opening, Openings, Wanted, find

_PERSON = ("person",)
_TIMES = ("weekdays", "not_before", "over_by")


@dataclass(frozen=True, slots=True)
class Alternative:
    """The first opening without a wish. `without`: the fields of the form that it gives up."""

    label: StrOrPromise
    opening: Opening
    without: tuple[str, ...]


def alternatives(
    *, site: Site, wanted: Wanted, earliest_at: datetime, latest_at: datetime, found: Openings
) -> list[Alternative]:
    """At most three, each sooner than what was found, the one that gives up least first."""
    until_at = found.found[0].start_at if found.found else latest_at
    offered: list[Alternative] = []
    for label, loosened, without in _loosened(wanted):
        sooner = find(site=site, wanted=loosened, earliest_at=earliest_at, latest_at=until_at, limit=1).found
        if sooner and sooner[0].start_at < until_at:
            offered.append(Alternative(label, sooner[0], without))
            until_at = sooner[0].start_at
    return offered


def _loosened(wanted: Wanted) -> Sequence[tuple[StrOrPromise, Wanted, tuple[str, ...]]]:
    anyone, any_time = replace(wanted, person=None), replace(wanted, wishes=ANY_TIME)
    ways: list[tuple[StrOrPromise, Wanted, tuple[str, ...]]] = []
    if wanted.person is not None:
        ways.append((_("Sooner with somebody else"), anyone, _PERSON))
    if not wanted.wishes.any_time:
        ways.append((_("Sooner at another time"), any_time, _TIMES))
    if len(ways) > 1:
        ways.append(
            (_("Sooner with somebody else at another time"), replace(anyone, wishes=ANY_TIME), _PERSON + _TIMES)
        )
    return ways
