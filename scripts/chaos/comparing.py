"""What the mail server holds against what the table says. Pure: every rule of the storm is judged here."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

SENT = {"handed_over", "delivered"}
# A person has to look: whoever is not sent to must stand on the list of staff.
SHOWN = {"failed", "uncertain", "missed", "bounced"}
# From the last look at the time until the mail server has the whole mail.
DIALOGUE_SECONDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    pk: int
    message_id: str
    state: str
    may_go_twice: bool
    not_after: float
    settled: float | None
    is_listed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """`found` may be at most `most`."""

    name: str
    found: int
    most: int = 0
    # A few of the rows, for whoever looks for the reason.
    rows: list[int] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        return self.found <= self.most


def judge(rows: Sequence[Row], arrivals: Mapping[str, Sequence[float]], *, kills: int, breaks: int) -> list[Rule]:
    got = {row.pk: arrivals.get(row.message_id, ()) for row in rows}
    uncertain = [row for row in rows if row.state == "uncertain"]
    duplicates = sum(max(0, len(times) - 1) for times in got.values())
    names = {row.message_id for row in rows}
    return [
        _none("neither sent nor shown", [row for row in rows if not _is_accounted(row, got[row.pk])]),
        _none("said to be sent and never received", [row for row in rows if row.state in SENT and not got[row.pk]]),
        _none("received more than twice", [row for row in rows if len(got[row.pk]) > 2]),
        _none("with a private link, received twice", [row for row in rows if _is_repeated_link(row, got[row.pk])]),
        Rule(name="duplicates and uncertain", found=duplicates + len(uncertain), most=kills + breaks),
        _none("uncertain and on nobody's list", [row for row in rows if row in uncertain and not row.is_listed]),
        _none("missed before its time was over", [row for row in rows if _is_missed_early(row)]),
        _none("sent after its time", [row for row in rows if _is_late(row, got[row.pk])]),
        Rule(name="mails that no row knows", found=len(set(arrivals) - names)),
    ]


def _none(name: str, rows: Sequence[Row]) -> Rule:
    return Rule(name=name, found=len(rows), rows=[row.pk for row in rows[:10]])


def _is_accounted(row: Row, received: Sequence[float]) -> bool:
    """Settled as sent with the mail there, or in a state that stands on the list of staff."""
    if row.state in SENT:
        return bool(received)
    return row.state in SHOWN and row.is_listed


def _is_repeated_link(row: Row, received: Sequence[float]) -> bool:
    return len(received) > 1 and not row.may_go_twice


def _is_missed_early(row: Row) -> bool:
    return row.state == "missed" and (row.settled is None or row.settled < row.not_after)


def _is_late(row: Row, received: Sequence[float]) -> bool:
    return any(at > row.not_after + DIALOGUE_SECONDS for at in received)
