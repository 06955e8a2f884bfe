"""A manager of Fernbrook writes over a local rule, in as few words as a test needs."""

from datetime import date, datetime

from tests.cast import NOW, Cast, actor_of
from whitening.screening.actions import OwnRuleDetails, change_local_rule
from whitening.screening.grades import Quality
from whitening.screening.local_rules import newest_change, own_row
from whitening.screening.models import LocalRuleChange
from whitening.screening.own_rules import columns_in_force

WHY = "Agreed among the dentists"
WHERE = "Letter of the dental council, February 2026"


def details(code: str = "UK", *, checked_on: date = date(2026, 3, 2), **changed: str) -> OwnRuleDetails:
    values = columns_in_force(code, own_row(code)) | changed
    return OwnRuleDetails(values=values, reason=WHY, source=WHERE, quality=Quality.SEEN, checked_on=checked_on)


def written_over(
    cast: Cast, code: str = "UK", *, now: datetime = NOW, checked_on: date = date(2026, 3, 2), **changed: str
) -> LocalRuleChange:
    held = newest_change(code)
    return change_local_rule(
        code=code,
        details=details(code, checked_on=checked_on, **changed),
        seen_version=held.version if held else 0,
        at=cast.fernbrook,
        user=cast.manager,
        actor=actor_of(cast.manager),
        now=now,
    )
