"""A manager writes over a local rule: stricter in strength and age, free in the rest, with reason, source and date."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site, User
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.screening.grades import Quality
from whitening.screening.jurisdictions import JurisdictionRefused, jurisdictions, shipped_rows
from whitening.screening.local_rules import as_own_row, newest_change
from whitening.screening.models import LocalRuleChange
from whitening.screening.own_rules import changed, columns_in_force, looser_than_law


class LocalRuleUnknown(Refusal):
    code = "screening.local_rule_unknown"
    sentence = _("The program knows no local rules by this code.")


class LocalRuleNotKept(Refusal):
    """faults: column and sentence of each thing that stands against it."""

    code = "screening.local_rule_not_kept"
    sentence = _("This rule cannot be kept. %(why)s")

    def __init__(self, faults: Sequence[JurisdictionRefused]) -> None:
        self.faults = tuple(faults)
        super().__init__(why=" ".join(str(fault.sentence) for fault in faults))


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRuleDetails:
    """values: the editable columns as the program's own file writes them; all of them, changed or not."""

    values: Mapping[str, str]
    reason: str
    source: str
    quality: Quality
    checked_on: date


def change_local_rule(
    *, code: str, details: OwnRuleDetails, seen_version: int, at: Site, user: User, actor: Actor, now: datetime
) -> LocalRuleChange:
    """The practice's next version. seen_version: its newest when the page was opened, 0 for none.

    A change that alters no column is kept too: somebody has looked, on that day. Local rules are the whole practice's;
    `at` is the site where the person sets up. Raises LocalRuleUnknown, LocalRuleNotKept or ChangedMeanwhile.
    """
    require(user, Capability.SETUP, at)
    if code not in jurisdictions():
        raise LocalRuleUnknown
    values = _checked(code, details, today=now.astimezone(at.zone).date())
    try:
        with transaction.atomic():
            return _kept(code, values, details, seen_version, at, user, actor, now)
    except IntegrityError as error:
        # Two pressed at once: the version stands, and it is the other's.
        if not LocalRuleChange.objects.filter(code=code, version=seen_version + 1).exists():
            raise
        raise ChangedMeanwhile from error


def _kept(
    code: str,
    values: dict[str, str],
    details: OwnRuleDetails,
    seen_version: int,
    at: Site,
    user: User,
    actor: Actor,
    now: datetime,
) -> LocalRuleChange:
    held = newest_change(code)
    if (held.version if held else 0) != seen_version:
        raise ChangedMeanwhile
    before = columns_in_force(code, as_own_row(held) if held else None)
    row = LocalRuleChange.objects.create(
        code=code,
        version=seen_version + 1,
        made_over=jurisdictions()[code].version,
        values=values,
        reason=details.reason,
        source=details.source,
        quality=details.quality,
        checked_on=details.checked_on,
        changed_at=now,
        changed_by=user,
    )
    record(
        verb="screening.local_rule_changed",
        actor=actor,
        subject=("local_rule", row.pk),
        patient_id=None,
        site_id=at.pk,
        values=_trail_values(row, before),
    )
    return row


def _trail_values(row: LocalRuleChange, before: Mapping[str, str]) -> dict[str, object]:
    after = columns_in_force(row.code, as_own_row(row))
    changes = {name: {"from": before[name], "to": after[name]} for name in after if before[name] != after[name]}
    about = {"code": row.code, "version": row.version, "reason": row.reason, "source": row.source}
    return {**about, "quality": str(row.quality), "checked_on": row.checked_on.isoformat(), **changes}


def _checked(code: str, details: OwnRuleDetails, *, today: date) -> dict[str, str]:
    """The columns that differ from the shipped row. Everything that stands against them is said at once."""
    faults: list[JurisdictionRefused] = []
    if not details.reason.strip():
        faults.append(JurisdictionRefused(code, "reason", _("Say why.")))
    if not details.source.strip():
        faults.append(JurisdictionRefused(code, "source", _("Say where you looked it up.")))
    if details.checked_on > today:
        faults.append(JurisdictionRefused(code, "checked_on", _("This day has not come yet.")))
    values: dict[str, str] = {}
    try:
        faults.extend(looser_than_law(shipped=jurisdictions()[code], values=details.values))
        values = changed(shipped=shipped_rows()[code][-1], typed=details.values)
    except JurisdictionRefused as fault:
        faults.append(fault)
    if faults:
        raise LocalRuleNotKept(faults)
    return values
