"""Two records turn out to be one person: one is kept, the other stays in place and points to it.

Nothing of either is deleted or written anew. What can still change (visits, cases, messages) follows to the kept
record; what was signed, issued or recorded stays where it is and is found from there.
"""

from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from django.db import OperationalError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.dates import birth_words
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.patients import merging
from clinic.patients.actions.joined_details import joined_details, stricter_choices, take_details
from clinic.patients.actions.registering import ChangedMeanwhile, note_patient
from clinic.patients.merging import Joining
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.models import TrailEntry
from clinic.trail.refusals import Refusal

JOINED, JOINED_INTO = "patients.joined", "patients.joined_into"
# PostgreSQL: deadlock_detected, lock_not_available (Appendix A of its manual).
_IN_THE_WAY = {"40P01", "55P03"}


class SameRecord(Refusal):
    code = "patients.same_record"
    sentence = _("That is the same record. Look for the other one.")


class WhySame(Refusal):
    code = "patients.why_same"
    sentence = _("Say how you know that this is one person.")


class OtherSite(Refusal):
    code = "patients.other_site"
    sentence = _("These records belong to two sites. Each site keeps its own record of a person; they are not joined.")


class JoinedAlready(Refusal):
    code = "patients.joined_already"
    sentence = _("One of these records was joined with another one already. Open the patient again.")


class BirthDatesDiffer(Refusal):
    code = "patients.birth_dates_differ"
    sentence = _(
        "The dates of birth differ: %(kept)s on the record that is kept, %(other)s on the other. Say how you know "
        "that the other one was a typing error, or keep the other record."
    )


class OneHasLeft(Refusal):
    code = "patients.one_has_left"
    sentence = _(
        "Only one of the two is noted as died or as moved away. Note it on the other record as well, or take it back "
        "there; then join them."
    )


class InUseNow(Refusal):
    code = "patients.in_use_now"
    sentence = _("Somebody is working on one of these records at this moment. Try again.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What whoever joins them decided.

    taken: for which of joined_details.CHOSEN the other record holds. seen: the version of each, by its key.
    """

    reason: str
    birth_word: str = ""
    taken: frozenset[str] = frozenset()
    seen: Mapping[int, int] | None = None


def merge_patients(
    *, kept: Patient, other: Patient, choice: Choice, user: User, actor: Actor, now: datetime
) -> Patient:
    """Raises SameRecord, WhySame, JoinedAlready, OtherSite, ChangedMeanwhile, BirthDatesDiffer, OneHasLeft, InUseNow,
    what `joined_details` raises, or the refusal of a room.
    """
    require(user, Capability.PATIENTS_MERGE, kept.site)
    require(user, Capability.PATIENTS_MERGE, other.site)
    if kept.pk == other.pk:
        raise SameRecord
    if not choice.reason.strip():
        raise WhySame
    with one_behind_the_other(), transaction.atomic():
        rows = hold_both({kept.pk, other.pk})
        return _join(Joining(kept=rows[kept.pk], other=rows[other.pk], actor=actor, now=now), choice)


def how_joined(alias: Patient) -> TrailEntry | None:
    """Who joined it with the one that is kept, when, and why."""
    entries = TrailEntry.objects.about("patient", alias.pk).filter(verb=JOINED_INTO)
    return entries.order_by("-pk").first()


@contextmanager
def one_behind_the_other() -> Iterator[None]:
    """Whoever took the locks in another order, or kept us waiting, is simply in the way: nothing was written."""
    try:
        yield
    except OperationalError as error:
        if getattr(error.__cause__, "sqlstate", None) in _IN_THE_WAY or "database is locked" in str(error):
            raise InUseNow from error
        raise


def hold_both(keys: Collection[int]) -> dict[int, Patient]:
    """Locked in the order of their keys, whichever is kept: who join the same two both ways wait in one line.

    As strong as the lock of whoever gives a time: rows that refer to these may be written meanwhile.
    """
    rows = Patient.objects.filter(pk__in=keys).order_by("pk").select_for_update(no_key=True, of=("self",))
    return {row.pk: row for row in rows.select_related("site")}


def _join(joining: Joining, choice: Choice) -> Patient:
    kept, other = joining.kept, joining.other
    _check(joining, choice)
    details = joined_details(joining, choice.taken)
    merging.check(joining)
    changed, choices = take_details(joining, details), stricter_choices(joining)
    other.merged_into, other.merged_at = kept, joining.now
    for row in (kept, other):
        row.version += 1
        row.save()
    aliases = sorted(other.aliases.values_list("pk", flat=True))
    Patient.objects.filter(pk__in=aliases).update(merged_into=kept)
    moved = merging.move(joining)
    said: dict[str, object] = {"reason": choice.reason.strip(), "birth_word": choice.birth_word.strip()}
    listed = {"moved": moved, "aliases": aliases, "changed": changed, "choices": choices}
    note_patient(JOINED_INTO, other, joining.actor, {**said, "kept": kept.pk})
    # Last of all: whatever is recorded about this person behind it was written since.
    note_patient(JOINED, kept, joining.actor, {**said, **listed, "other": other.pk})
    return kept


def _check(joining: Joining, choice: Choice) -> None:
    kept, other = joining.kept, joining.other
    if kept.merged_into_id is not None or other.merged_into_id is not None:
        raise JoinedAlready
    if kept.site_id != other.site_id:
        raise OtherSite
    if choice.seen is not None and any(choice.seen.get(row.pk) != row.version for row in (kept, other)):
        raise ChangedMeanwhile
    if kept.birth_on != other.birth_on and not choice.birth_word.strip():
        raise BirthDatesDiffer(kept=birth_words(kept.birth_on), other=birth_words(other.birth_on))
    if any((getattr(kept, when) is None) != (getattr(other, when) is None) for when in ("died_on", "moved_on")):
        raise OneHasLeft
