"""How sure a share is, when it was counted in so and so many visits."""

from dataclasses import dataclass

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """count of so many, with the limits between which the true share lies, at 95 % confidence."""

    count: int
    of: int
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.count / self.of if self.of else 0.0


def share(count: int, of: int) -> Share:
    """Wilson's score interval: it stays inside 0 and 1, and says something also when nothing was counted yet.

    Wilson (1927), J Am Stat Assoc 22:209; chosen after Newcombe (1998), Stat Med 17:857. Of no visit it says nothing.
    """
    if of == 0:
        return Share(0, 0, 0.0, 1.0)
    from scipy.stats import binomtest  # noqa: PLC0415  (half a second: only who looks at results waits for it)

    limits = binomtest(count, of).proportion_ci(confidence_level=CONFIDENCE, method="wilson")
    return Share(count, of, float(limits.low), float(limits.high))
