"""One press: the desk has seen what patients changed themselves."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import ngettext

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary import own_changes
from clinic.diary.models import OwnChange
from clinic.trail.clock import now


@staff(Capability.DIARY_BOOK, methods=("POST",))
def seen(request: StaffRequest) -> HttpResponse:
    """Those that stood on the page, and none that came since."""
    sent = request.POST.getlist("change")[: own_changes.SHOWN]
    ids = [int(one) for one in sent if one.isascii() and one.isdigit() and len(one) < 19]
    if not OwnChange.objects.filter(site=request.site, pk__in=ids).exists():
        raise Http404
    count = own_changes.see(site=request.site, ids=ids, user=request.user, actor=request.actor, now=now())
    if count:
        words = ngettext("%(count)d change is seen.", "%(count)d changes are seen.", count)
        messages.success(request, words % {"count": count})
    return redirect("today")
