"""Two records are one person: what is due goes to the kept one, once, and by the stricter of what both have chosen."""

from django.db.models import Value
from django.db.models.functions import Coalesce

from clinic.messages.actions import parting
from clinic.messages.actions.choosing import stop_unwanted
from clinic.messages.models import Call, DueMessage, LinkVisit, PrivateLink
from clinic.patients import merging
from clinic.patients.merging import Joining, Moved, point_back, repoint


def _move(joining: Joining) -> Moved:
    """A message keeps its subject, so that it still goes out once. Its links open the same pages as before."""
    moved = {
        "messages": repoint(DueMessage.objects.all(), joining),
        "calls": repoint(Call.objects.all(), joining),
        "links": repoint(PrivateLink.objects.all(), joining),
    }
    if joining.kept.birth_on != joining.other.birth_on:
        # Whoever is in by the other date of birth has not shown the one that now opens these pages.
        theirs = LinkVisit.objects.filter(link__in=moved["links"])
        opened_for = Coalesce("opened_for", Value(joining.other.pk))
        theirs.update(known_at=None, code_passed_at=None, code_hash="", opened_for=opened_for)
    # The choices of both were brought together before anything was moved.
    stop_unwanted(patient=joining.kept, actor=joining.actor, now=joining.now)
    return moved


def _back(joining: Joining, moved: Moved) -> None:
    parting.nothing_on_its_way(joining)
    point_back(DueMessage.objects.all(), joining, moved.get("messages", ()))
    point_back(Call.objects.all(), joining, moved.get("calls", ()))
    point_back(PrivateLink.objects.all(), joining, moved.get("links", ()))
    parting.follow_subjects(joining)
    parting.tell_again(joining, links_before=moved.get("links", ()))


ROOM = merging.Room(code="messages", move=_move, back=_back)
