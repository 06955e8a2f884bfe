"""What holds of two records of one person: details as chosen, marks and refusals by the stricter of the two."""

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.utils.translation import gettext_lazy as _

from clinic.patients import spelling
from clinic.patients.actions.registering import Details, details_of, difference, search_fields
from clinic.patients.contact import unsaid
from clinic.patients.merging import Joining
from clinic.patients.models import Channel, ContactChoice, Patient, Purpose
from clinic.trail.refusals import Refusal

# For each of these somebody chooses which record holds; an interpreter and their language go together.
CHOSEN = {
    "preferred_name": ("preferred_name",),
    "phone": ("phone",),
    "email": ("email",),
    "address": ("address",),
    "channel": ("channel",),
    "language": ("language",),
    "interpreter": ("needs_interpreter", "interpreter_language"),
    "own_dentist": ("own_dentist",),
    "timezone": ("timezone",),
}
_NEEDED_BY = {Channel.EMAIL: "email", Channel.LETTER: "address", Channel.TEXT: "phone", Channel.PHONE: "phone"}
_PLAIN_WORD = re.compile(r"[^\W\d_]+(-[^\W\d_]+)*")
_LONGEST = Patient._meta.get_field("allergies").max_length or 0


class NoWayToReach(Refusal):
    code = "patients.no_way_to_reach"
    sentence = _("They are to be reached by %(channel)s: choose what that needs from the record that has it.")


class AllergiesTooLong(Refusal):
    code = "patients.allergies_too_long"
    sentence = _(
        "The allergies of both records are kept, and together they are too long. Shorten them on one record first."
    )


def joined_details(joining: Joining, taken: Collection[str]) -> Details:
    """Name and date of birth of the kept record, the allergies of both; the rest as chosen.

    taken: the names of CHOSEN for which the other record holds. Raises NoWayToReach, AllergiesTooLong.
    """
    mine, theirs = details_of(joining.kept), details_of(joining.other)
    names = [field for one in CHOSEN if one in taken for field in CHOSEN[one]]
    held = replace(mine, **{name: getattr(theirs, name) for name in names})
    held = replace(held, allergies=_of_both(mine.allergies, theirs.allergies))
    needed = _NEEDED_BY[Channel(held.channel)]
    # Where neither record has it, joining them changes nothing for the worse.
    if not getattr(held, needed) and (getattr(mine, needed) or getattr(theirs, needed)):
        raise NoWayToReach(channel=Channel(held.channel).label)
    return held


def _of_both(mine: str, theirs: str) -> str:
    """What is shown beside the chair must not get lost: a text is left out only where the other one says all of it."""
    if _says(mine, theirs):
        return mine
    joined = theirs if _says(theirs, mine) else f"{mine}; {theirs}"
    if len(joined) > _LONGEST:
        raise AllergiesTooLong
    return joined


def _says(text: str, other: str) -> bool:
    """The same entries in the same order, or a plain list of words that has every one of them.

    Where an entry has more than one word, a no may stand in it and go for its neighbours, in any language: "No allergy
    to latex, nickel" does not say "nickel".
    """
    entries, asked = _entries(text), _entries(other)
    if not asked or entries == asked:
        return True
    return set(asked) <= set(entries) and all(_PLAIN_WORD.fullmatch(entry) for entry in entries)


def _entries(text: str) -> list[str]:
    return [entry for part in re.split(r"[,;\n]", text) if (entry := part.strip().casefold())]


def take_details(joining: Joining, details: Details) -> dict[str, Any]:
    """On the kept row, unsaved; gives what changed, with the marks, from what to what."""
    kept, other = joining.kept, joining.other
    before, marks = details_of(kept), {"email_bounced_at": "email", "phone_wrong_at": "phone"}
    changed: dict[str, Any] = difference(before, details)
    for mark, name in marks.items():
        was = getattr(kept, mark)
        # Two records with one address: whoever noted that it is wrong was right.
        held = getattr(details, name).casefold()
        said = [getattr(row, mark) for row in (kept, other) if getattr(details_of(row), name).casefold() == held]
        now_is = next((at for at in said if at is not None), None)
        if now_is != was:
            changed[mark] = {"from": _plain(was), "to": _plain(now_is)}
            setattr(kept, mark, now_is)
    put(kept, {name: getattr(details, name) for name in Details.__dataclass_fields__})
    return changed


def put(row: Patient, values: dict[str, Any]) -> None:
    """Sets them with the folded copies for search; unsaved."""
    words = set(row.search_name.split())
    for name, value in values.items():
        setattr(row, name, value)
    for name, value in search_fields(details_of(row)).items():
        setattr(row, name, value)
    spelling.learn(set(row.search_name.split()) - words)


def _plain(at: datetime | None) -> str | None:
    return at.isoformat() if at is not None else None


@dataclass(frozen=True, slots=True)
class _Said:
    """One choice of contact as it was last made."""

    purpose: Purpose
    way: str
    allowed: bool
    wording: str


def stricter_choices(joining: Joining) -> list[dict[str, Any]]:
    """Written anew for the kept record: a no of either is a no, a yes of the other counts where the kept said nothing.

    Gives each with what held before.
    """
    mine = {(one.purpose, one.way): one for one in _said(joining.kept)}
    written = []
    for one in _said(joining.other):
        before = mine.get((one.purpose, one.way))
        if before is not None and (one.allowed or not before.allowed):
            continue
        held = before.allowed if before is not None else _unsaid(one)
        if held != one.allowed:
            _write(joining, one.purpose, one.way, allowed=one.allowed, wording=one.wording)
            said = before.allowed if before is not None else None
            written.append({"purpose": str(one.purpose), "way": one.way, "before": said, "now": one.allowed})
    return written


def choices_back(joining: Joining, written: Sequence[dict[str, Any]]) -> None:
    """What was said for the kept record before; where nothing was, nothing is said again. The wording is the reason."""
    wording = str(_("as it was before the records were joined"))
    for one in written:
        _write(joining, Purpose(one["purpose"]), one["way"], allowed=one["before"], wording=wording)


def _said(patient: Patient) -> Iterator[_Said]:
    newest = {(row.purpose, row.channel): row for row in patient.contact_choices.order_by("chosen_at", "pk")}
    for (purpose, way), row in newest.items():
        if row.allowed is not None:
            yield _Said(Purpose(purpose), way, row.allowed, row.wording)


def _unsaid(one: _Said) -> bool:
    """What holds where nothing was chosen: every way does."""
    return bool(one.way) or unsaid(one.purpose)


def _write(joining: Joining, purpose: Purpose, way: str, *, allowed: bool | None, wording: str) -> None:
    ContactChoice.objects.create(
        patient=joining.kept,
        purpose=purpose,
        channel=way,
        allowed=allowed,
        wording=wording,
        chosen_at=joining.now,
        chosen_by=joining.actor.name,
    )
