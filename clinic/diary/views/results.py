"""Results: how rooms, people and lights were used, and what became of the visits."""

from itertools import groupby

from django.http import HttpResponse
from django.shortcuts import render

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.models import ResourceKind
from clinic.diary.usage import usage
from clinic.diary.usage_pictures import bars, interval
from clinic.trail.clock import now


@staff(Capability.RESULTS_READ)
def results(request: StaffRequest) -> HttpResponse:
    read = usage(request.site, now=now())
    kinds = [ResourceKind.ROOM, ResourceKind.PERSON, ResourceKind.LIGHT]
    used = sorted(read.used, key=lambda one: kinds.index(ResourceKind(one.resource.kind)))
    groups = groupby(used, key=lambda one: ResourceKind(one.resource.kind))
    context = {
        "usage": read,
        "groups": [(kind.value, [bars(one) for one in some]) for kind, some in groups],
        "missed": interval(read.attendance.missed),
        "late": interval(read.attendance.cancelled_late),
    }
    return render(request, "diary/results.html", context)
