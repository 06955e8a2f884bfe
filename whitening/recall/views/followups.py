"""Follow-ups as staff see them: one list by what must happen now, as somebody wants to look at it."""

from collections.abc import Sequence
from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from clinic.accounts import rota
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import User
from clinic.accounts.rights import Capability, sites_where
from clinic.messages.models import Call
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal
from whitening.recall import wanted, worklist, worklist_rows
from whitening.recall.actions import delete_view, keep_view
from whitening.recall.forms import MessageCallForm
from whitening.recall.models import FollowUp, SavedView
from whitening.recall.waiting import waiting
from whitening.recall.worklist import Part, Section, Wanted


@staff(Capability.FOLLOWUPS_READ)
def followups(request: StaffRequest) -> HttpResponse:
    """What was said needs its own right; so does each button."""
    at, user = now(), request.user
    asked = wanted.read(request.GET.dict())
    parts = worklist.parts(user=user, wanted=asked, now=at)
    counts = {part.section.value: part.count for part in parts}
    shown = _shown(parts, user, at)
    context = {
        "parts": [
            (part, shown[part.section], wanted.query(asked, section=part.section.value, page=1)) for part in parts
        ],
        "counts": counts,
        "number_of_calls": counts.get(Section.CALLS, 0) + counts.get(Section.INSTEAD, 0),
        "number_overdue": worklist.number_overdue(user=user, now=at),
        "found": sum(counts.values()),
        "wanted": asked,
        "is_everything": asked == Wanted(),
        "query": wanted.query(asked),
        "pages": _pages(parts, asked),
        "views": [(view, wanted.query(wanted.of_view(view))) for view in SavedView.objects.visible_to(user)],
        "kinds": wanted.KINDS,
        "sections": Section.choices,
        "owners": list(worklist.owners(user)),
        "outcomes": MessageCallForm.CHOICES,
        "letters": Call.objects.on_paper(now=at).filter(site=request.site).count(),
        "read_at": sites_where(user, Capability.REPLIES_READ),
        "settle_at": sites_where(user, Capability.MESSAGES_SEND),
        "write_at": sites_where(user, Capability.PATIENTS_WRITE),
        "on_call": rota.on_call(request.site, at=at),
        # The rows are of all their sites, whichever is on the screen.
        "names_site": len(user.roles_by_site) > 1,
    }
    return render(request, "recall/followups.html", context)


@staff(Capability.FOLLOWUPS_READ, methods=("POST",))
def view_keep(request: StaffRequest) -> HttpResponse:
    """Without the text: whose name was searched for is not kept."""
    asked = wanted.read(request.POST.dict())
    try:
        view = keep_view(
            user=request.user,
            name=request.POST.get("name", ""),
            kind=asked.kind,
            owner=asked.owner,
            section=asked.section,
        )
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return _to(asked)
    messages.success(request, _("The view is kept. Only you see it."))
    return _to(wanted.of_view(view))


@staff(Capability.FOLLOWUPS_READ, methods=("POST",))
def view_delete(request: StaffRequest) -> HttpResponse:
    delete_view(user=request.user, name=request.POST.get("name", ""))
    messages.success(request, _("The view is deleted. Nothing else changes."))
    return redirect("followups")


def _to(asked: Wanted) -> HttpResponse:
    return redirect(f"{reverse('followups')}?{wanted.query(asked)}")


def _shown(parts: Sequence[Part], user: User, at: datetime) -> dict[Section, Sequence[object]]:
    """Each section as its template takes it."""
    rows = {part.section: part.rows for part in parts}
    follow_ups = [row for some in rows.values() for row in some if isinstance(row, FollowUp)]
    lines = worklist_rows.lines(follow_ups, user=user, now=at)
    shown: dict[Section, Sequence[object]] = {}
    for section, some in rows.items():
        match section:
            case Section.ANSWERS:
                shown[section] = waiting(some, now=at)
            case Section.INSTEAD:
                shown[section] = worklist_rows.calls(some)
            case Section.ASTRAY:
                shown[section] = worklist_rows.messages(some)
            case _:
                shown[section] = [lines[row.pk] for row in some]
    return shown


def _pages(parts: Sequence[Part], asked: Wanted) -> dict[str, object]:
    """Before and after, where one section is looked at."""
    if not asked.section or not parts or parts[0].pages == 1:
        return {}
    part = parts[0]
    return {
        "page": part.page,
        "pages": part.pages,
        "before": wanted.query(asked, page=part.page - 1) if part.page > 1 else "",
        "after": wanted.query(asked, page=part.page + 1) if part.page < part.pages else "",
    }
