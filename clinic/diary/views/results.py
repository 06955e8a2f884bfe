"""Results: how rooms, people and lights were used, and what became of the visits."""

from itertools import groupby

from django.http import HttpResponse
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability, may
from clinic.diary.models import Resource, ResourceKind
from clinic.diary.usage import usage
from clinic.diary.usage_pictures import bars, interval
from clinic.trail.clock import now


@staff(Capability.RESULTS_READ)
def results(request: StaffRequest) -> HttpResponse:
    read = usage(request.site, now=now())
    kinds = [ResourceKind.ROOM, ResourceKind.PERSON, ResourceKind.LIGHT]
    shown = [one for one in read.used if _may_see(one.resource, request)]
    used = sorted(shown, key=lambda one: kinds.index(ResourceKind(one.resource.kind)))
    groups = groupby(used, key=lambda one: ResourceKind(one.resource.kind))
    context = {
        "usage": read,
        "groups": [(kind.value, [bars(one) for one in some]) for kind, some in groups],
        "missed": interval(read.attendance.missed),
        "late": interval(read.attendance.cancelled_late),
    }
    return render(request, "diary/results.html", context)


def _may_see(resource: Resource, request: StaffRequest) -> bool:
    """How busy a colleague was is between them and the manager."""
    of_a_person = resource.person_id is not None
    return (
        not of_a_person or resource.person_id == request.user.pk or may(request.user, Capability.PEOPLE, request.site)
    )
