"""Secret addresses for calendar programs: one's own under the account, all of the site under Set-up."""

from secrets import token_urlsafe
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.rights import Capability
from clinic.diary.access import access_calendar, access_own_calendar
from clinic.diary.actions import make_calendar, take_back_calendar
from clinic.diary.models import CalendarFeed, CalendarFeedQuerySet, Resource, ResourceQuerySet
from clinic.diary.refusals import CalendarMadeAlready
from clinic.trail.clock import now
from clinic.trail.refusals import Refusal

# Addresses that open nothing any more are shown for a while, then only the trail speaks of them.
ENDED_SHOWN = 10
# Pages of this sign-in from which an address was made.
USED, USED_KEPT = "calendar_pages", 20


class WhoseField(forms.ModelChoiceField[Resource]):
    def label_from_instance(self, obj: Resource) -> str:
        """With the site: one person may have a place at several."""
        return f"{obj.name} · {obj.site.name}"


class CalendarForm(forms.Form):
    resource = WhoseField(
        Resource.objects.none(),
        label=gettext_lazy("Whose visits"),
        empty_label=gettext_lazy("Pick a room or a person"),
        error_messages={"required": gettext_lazy("Pick a room or a person.")},
    )
    label = forms.CharField(
        label=gettext_lazy("Where you will use it"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("For example “my telephone”. It tells you later which address to take back."),
    )
    with_initials = forms.BooleanField(
        label=gettext_lazy("Show patients’ initials"),
        required=False,
        help_text=gettext_lazy(
            "Together with the time, initials may tell others who comes. Without them each visit is a kind, a "
            "time and a room."
        ),
    )
    # Of one page: what the browser sends once more by a reload makes no second address.
    page = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, resources: ResourceQuerySet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["page"].initial = token_urlsafe(16)
        choices = resources.with_calendar().select_related("site").order_by("-kind", "position", "name", "pk")
        self.fields["resource"].queryset = choices  # type: ignore[attr-defined]
        self.whose = list(choices[:2])
        if len(self.whose) == 1:
            # Nothing to choose between.
            self.fields["resource"].widget = forms.HiddenInput()
            self.fields["resource"].initial = self.whose[0].pk


@staff(Capability.OWN_ACCOUNT, methods=("GET", "POST"))
def own(request: StaffRequest) -> HttpResponse:
    mine = Resource.objects.visible_to(request.user).filter(person=request.user)
    return _page(request, mine, CalendarFeed.objects.of_person(request.user), "own")


@staff(Capability.SETUP, methods=("GET", "POST"))
def of_site(request: StaffRequest) -> HttpResponse:
    theirs = Resource.objects.filter(site=request.site)
    return _page(request, theirs, CalendarFeed.objects.filter(resource__site=request.site), "setup")


@staff(Capability.OWN_ACCOUNT, methods=("POST",))
def own_take_back(request: StaffRequest, pk: int) -> HttpResponse:
    return _take_back(
        request, access_own_calendar(user=request.user, pk=pk, to=Capability.OWN_ACCOUNT), "own_calendars"
    )


@staff(Capability.SETUP, methods=("POST",))
def take_back(request: StaffRequest, pk: int) -> HttpResponse:
    return _take_back(request, access_calendar(user=request.user, pk=pk, to=Capability.SETUP), "setup_calendars")


def _page(request: StaffRequest, resources: ResourceQuerySet, feeds: CalendarFeedQuerySet, whose: str) -> HttpResponse:
    form = CalendarForm(request.POST if request.method == "POST" else None, resources=resources)
    made, address = _make(request, form) if form.is_valid() else (None, "")
    context = {
        # Ready for the next one.
        "form": CalendarForm(resources=resources) if made else form,
        "made": made,
        "address": address,
        **_lists(feeds),
    }
    return render(request, f"diary/calendars/{whose}.html", context, status=422 if form.is_bound and not made else 200)


def _make(request: StaffRequest, form: CalendarForm) -> tuple[CalendarFeed | None, str]:
    """Shown in the answer itself: the secret is kept nowhere on the way, so it is not asked for again."""
    wanted = dict(form.cleaned_data)
    page, used = wanted.pop("page"), request.session.get(USED, [])
    try:
        if page in used:
            raise CalendarMadeAlready
        feed, secret = make_calendar(**wanted, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return None, ""
    if page:
        request.session[USED] = [*used, page][-USED_KEPT:]
    return feed, settings.PUBLIC_URL + reverse("calendar_feed", kwargs={"token": secret})


def _lists(feeds: CalendarFeedQuerySet) -> dict[str, object]:
    rows = feeds.select_related("resource", "made_by")
    answering = rows.answering()
    ended = rows.exclude(pk__in=answering.values("pk"))
    return {"open": list(answering), "ended": list(ended.order_by("-revoked_at", "-made_at", "-pk")[:ENDED_SHOWN])}


def _take_back(request: StaffRequest, feed: CalendarFeed, back_to: str) -> HttpResponse:
    try:
        take_back_calendar(feed=feed, user=request.user, actor=request.actor, now=now())
    except Refusal as refusal:
        messages.warning(request, str(refusal))
    else:
        messages.success(request, _("Taken back: that address opens nothing any more."))
    return redirect(back_to)
