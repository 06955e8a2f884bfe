"""Why there is no time: which of the things that a visit needs leaves none, and from when on that one would."""

from collections.abc import Mapping
from zoneinfo import ZoneInfo

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise

from clinic.accounts.dates import day_words
from clinic.diary.engine.spans import to_instant
from clinic.diary.models import Need

_LACKING: dict[str, StrOrPromise] = {
    Need.ROOM: _("no room is free long enough"),
    Need.CLINICIAN: _("no clinician who may do this is free long enough"),
    Need.EXAMINER: _("no clinician who may examine and decide is free long enough"),
    Need.ASSISTANT: _("no assistant is free long enough"),
    Need.LIGHT_HAND_HELD: _("no hand-held light is free long enough"),
    Need.LIGHT_ARCH: _("no arch light is free long enough"),
    Need.LIGHT_ANY: _("no light is free long enough"),
}
_DO_NOT_MEET = _("what it needs is free, but never at the same time")


class FirstStarts:
    """Of one search, window after window: when each need alone could first be met."""

    def __init__(self) -> None:
        self._first: dict[str, int | None] = {}
        self._later: set[str] = set()
        self._at_first: set[str] = set()

    def add(self, starts: Mapping[str, int | None]) -> None:
        for need, start in starts.items():
            known = self._first.get(need)
            if start is None:
                (self._at_first if known is None else self._later).add(need)
            self._first[need] = start if known is None else known

    def reasons(self, zone: ZoneInfo) -> list[StrOrPromise]:
        """In the order of the visit's needs; where none of them alone is to blame, that they do not meet."""
        lacked = self._at_first | self._later
        return [self._reason(need, start, zone) for need, start in self._first.items() if need in lacked] or [
            _DO_NOT_MEET
        ]

    def _reason(self, need: str, start: int | None, zone: ZoneInfo) -> StrOrPromise:
        lacking = _LACKING[need]
        if start is None:
            return lacking
        if need in self._at_first:
            return _("%(what)s before %(day)s") % {"what": lacking, "day": day_words(to_instant(start), zone)}
        return _("%(what)s in some of these weeks") % {"what": lacking}
