"""These were two people: what was made while their records were joined follows its subject, and what went to the
wrong one of them is told again by a person.

Runs when everything else has gone back already, and each record has its own address again.
"""

from collections.abc import Collection, Iterator
from typing import Any

from django.db.models import QuerySet

from clinic.messages import kinds, links, subjects
from clinic.messages.limits import GONE_OUT
from clinic.messages.models import Call, DueMessage, Ended, PrivateLink, State, Why
from clinic.messages.settling import call_instead
from clinic.patients.actions.joining import InUseNow
from clinic.patients.merging import Joining, point_back
from clinic.patients.models import WRITTEN, Patient


def nothing_on_its_way(joining: Joining) -> None:
    """What was claimed is read anew, with the right address. Raises InUseNow while something is being handed over."""
    rows = DueMessage.objects.filter(patient__in=joining.both)
    held = rows.filter(state__in=[State.CLAIMED, State.HANDING_OVER]).order_by("pk").select_for_update(of=("self",))
    if any(message.state == State.HANDING_OVER for message in held):
        raise InUseNow
    rows.filter(state=State.CLAIMED).update(state=State.DUE, lease_until=None)


def follow_subjects(joining: Joining) -> None:
    """A message may be about a link, and a link about a message: links before and after."""
    for rows in (PrivateLink.objects.all(), DueMessage.objects.all(), PrivateLink.objects.all()):
        point_back(rows, joining, list(_about_the_other(rows, joining)))
    Call.objects.filter(patient=joining.kept, message__patient=joining.other).update(patient=joining.other)


def tell_again(joining: Joining, *, links_before: Collection[int]) -> None:
    """A link that went to the wrong person opens no more, and gets nobody a new one."""
    astray = {owner.pk: list(_went_elsewhere(owner, joining)) for owner in joining.both}
    for message in (message for found in astray.values() for message in found):
        if _is_still_news(message, joining):
            call_instead(message, why=Why.OTHER_PERSON, now=joining.now)
    # It was made for the address that held then. Where that was the other's, something of the kept one's went astray.
    wrong = [joining.other] if not _share_addresses(joining) else []
    wrong += [joining.kept] if astray[joining.kept.pk] else []
    made = PrivateLink.objects.filter(patient__in=wrong, made_at__gte=joining.other.merged_at, ended_at=None)
    for link in made.exclude(pk__in=links_before).order_by("pk"):
        links.end_link(link, because=Ended.TAKEN_BACK, now=joining.now, actor=joining.actor)


def _about_the_other(rows: "QuerySet[Any]", joining: Joining) -> Iterator[int]:
    mine = rows.filter(patient=joining.kept).order_by()
    for subject_kind in mine.values_list("subject_kind", flat=True).distinct():
        about = mine.filter(subject_kind=subject_kind)
        theirs = subjects.owned(subject_kind, about.values_list("subject_id", flat=True), joining.other)
        yield from about.filter(subject_id__in=theirs).values_list("pk", flat=True)


def _went_elsewhere(owner: Patient, joining: Joining) -> Iterator[DueMessage]:
    """Handed over while they were joined, and not to their own address."""
    rows = DueMessage.objects.filter(
        patient=owner, handed_over_at__gte=joining.other.merged_at, channel__in=WRITTEN, state__in=GONE_OUT
    )
    own, known = _addresses(owner), kinds.registered()
    for message in rows.select_related("site", "patient").order_by("pk"):
        kind = known.get(message.kind)
        to_a_colleague = kind is not None and kind.recipient is not None
        if message.sent_to.casefold() not in own and not to_a_colleague:
            yield message


def _is_still_news(message: DueMessage, joining: Joining) -> bool:
    """Not what was asked for on a page."""
    kind = kinds.registered().get(message.kind)
    if kind is None or kind.despite_choices:
        return False
    subject = kind.load(message.subject_id)
    return subject is not None and kind.still_wanted(subject, message, joining.now) is True


def _addresses(patient: Patient) -> set[str]:
    phone = str(patient.phone.as_e164) if patient.phone else ""
    return {patient.email.casefold(), phone} - {""}


def _share_addresses(joining: Joining) -> bool:
    return _addresses(joining.kept) == _addresses(joining.other)
