"""Before a change of working time is saved: the visits that it hits are shown, and agreed to by "Save anyway"."""

from collections.abc import Collection, Sequence

from django import forms
from django.http import HttpRequest

from clinic.diary.outside import Outside


def agreed_to(request: HttpRequest) -> Collection[int]:
    """The bookings that stood on the page when "Save anyway" was pressed; none for any other button."""
    if "anyway" not in request.POST:
        return ()
    return {int(pk) for pk in request.POST.getlist("agreed") if pk.isdecimal() and len(pk) < 19}


def status_of(form: forms.Form, visits: Sequence[Outside]) -> int:
    return 409 if visits else 422 if form.is_bound else 200
