"""What a look through the trail found, and what it could not prove."""

from dataclasses import dataclass, field

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.trail import rows
from clinic.trail.anchors import Anchor

SHOWN = 100

ALTERED = _("position %(position)s, entry %(entry)s: the entry or its seal was altered, moved or put in")
GAP = _("position %(position)s is missing")
FORGED = _("entry %(entry)s was not written by this installation")
UNKNOWN_KEY = _("entry %(entry)s was written with a key that CASEBOOK_FIELD_KEYS does not hold")
LATE = _("entry %(entry)s was put in later than it claims")
CUT = _("the end was cut off: the outside head of %(at)s stands at position %(position)s")
UNREADABLE = _("position %(position)s cannot be read at all: a value in it is of no known kind")
BLOCK_ALTERED = _("accesses %(first)s to %(last)s: one was altered, removed or put in")
BLOCKS_ALTERED = _("the access log holds %(found)s accesses up to %(last)s, and its seals speak of %(sealed)s")
BLOCK_GONE = _("the seal of the access log that the outside head of %(at)s names is gone or differs")
VALUES_ALTERED = _("entry %(entry)s: its encrypted values are not those that were recorded")
REWRITTEN = _("the trail was rewritten: position %(position)s differs from the outside head of %(at)s")


@dataclass(frozen=True, slots=True)
class Finding:
    sentence: str | Promise
    params: dict[str, object]

    def __str__(self) -> str:
        return str(self.sentence) % self.params


@dataclass(slots=True, kw_only=True)
class Findings:
    """All are counted, the first ones are kept."""

    count: int = 0
    kept: list[Finding] = field(default_factory=list)

    def add(self, sentence: str | Promise, **params: object) -> None:
        self.count += 1
        if len(self.kept) < SHOWN:
            self.kept.append(Finding(sentence, params))


@dataclass(slots=True, kw_only=True)
class Report:
    findings: Findings = field(default_factory=Findings)
    sealed: int = 0
    unsealed: int = 0
    # Entries made with a key that the settings no longer hold: the chain covers them, their MAC cannot be checked.
    unknown_keys: int = 0
    anchor_count: int = 0
    unreadable_anchor_lines: tuple[int, ...] = ()
    last_anchor: Anchor | None = None
    head: tuple[int, str] = (0, rows.GENESIS)
    accesses_sealed: int = 0
    accesses_unsealed: int = 0

    @property
    def holds(self) -> bool:
        return self.findings.count == 0

    @property
    def after_anchor(self) -> int:
        """Sealed entries that a full rewrite could still replace without leaving a sign."""
        return self.sealed - (self.last_anchor.position if self.last_anchor else 0)
