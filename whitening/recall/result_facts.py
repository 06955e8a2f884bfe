"""What a patient is told about the result: two readings by the same method, or honestly none yet. Pure.

Right after a session teeth are dry, and what is read then is no result (S37). So the comparison is the shade before
the first session with the one a month after the last (S23 and S37: trials score the colour then).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Protocol

from whitening.cases.ladder import Ladder, lay_out
from whitening.cases.models import Moment
from whitening.shade.tabs import Guide


class Reading(Protocol):
    @property
    def moment(self) -> str: ...
    @property
    def guide(self) -> str: ...
    @property
    def tab(self) -> str: ...
    @property
    def provisional(self) -> bool: ...
    @property
    def read_at(self) -> datetime: ...
    @property
    def read_by(self) -> str: ...
    @property
    def session_number(self) -> int | None: ...


class Change(StrEnum):
    """OPEN: no reading yet that could be compared."""

    OPEN = "open"
    LIGHTER = "lighter"
    SAME = "same"
    DARKER = "darker"


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultFacts:
    """steps: how many, whatever the direction. left_out: readings by another guide, which are never compared."""

    change: Change
    steps: int
    before: Reading | None
    after: Reading | None
    ladder: Ladder
    left_out: int

    @property
    def has_other_eyes(self) -> bool:
        """Two people, so the comparison is a little less sure."""
        if self.before is None or self.after is None:
            return False
        return self.before.read_by != self.after.read_by

    @property
    def began_lightest(self) -> bool:
        """Then this guide has no lighter tab, and cannot show a change."""
        return self.before is not None and self.before.tab == self.ladder.rungs[0].code

    @property
    def has_dry(self) -> bool:
        return any(point.hollow for point in self.ladder.points)


def result_facts(readings: Sequence[Reading], guide: Guide) -> ResultFacts:
    """The readings in the order of time."""
    ours = [one for one in readings if one.guide == guide.code]
    # What was read before a later session follows gel already.
    before = _first([one for one in ours if one.session_number in {None, 1}], Moment.START)
    before = before or _first(ours, Moment.EXAMINATION)
    after = _first(list(reversed(ours)), Moment.REVIEW)
    steps = 0
    if before is not None and after is not None:
        steps = guide.tab(before.tab).rank - guide.tab(after.tab).rank
    return ResultFacts(
        change=_change(steps) if before is not None and after is not None else Change.OPEN,
        steps=abs(steps),
        before=before,
        after=after,
        ladder=lay_out(tabs=guide.tabs, readings=ours),
        left_out=len(readings) - len(ours),
    )


def _first(readings: Sequence[Reading], moment: Moment) -> Reading | None:
    return next((one for one in readings if one.moment == moment and not one.provisional), None)


def _change(steps: int) -> Change:
    if steps == 0:
        return Change.SAME
    return Change.LIGHTER if steps > 0 else Change.DARKER
