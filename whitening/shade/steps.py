"""How many steps lighter: the difference of two ranks on one guide.

Positive means lighter: rank before minus rank after. Published texts use both signs, so it is defined
here once. Ranks are ordinal and the steps uneven: report medians and counts beside a mean.
"""

from dataclasses import dataclass

from whitening.shade.tabs import guide


class GuidesDiffer(ValueError):
    """Steps of one guide cannot be counted against another's."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One tab, together with the guide it was read on."""

    guide: str
    tab: str

    @property
    def rank(self) -> int:
        return guide(self.guide).rank(self.tab)


def steps_lighter(*, before: Reading, after: Reading) -> int:
    if before.guide != after.guide:
        raise GuidesDiffer(f"{before.guide} and {after.guide}")
    return before.rank - after.rank


def most_steps(reading: Reading) -> int:
    """What is left above this tab: a tooth at the top of the guide cannot gain a step."""
    return reading.rank - 1
