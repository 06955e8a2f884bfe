"""The demo clock: jump ahead and see what falls due."""

from datetime import timedelta

from crispy_forms.helper import FormHelper
from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.doors import StaffRequest, go, staff
from clinic.accounts.rights import Capability
from clinic.trail.clock import now
from whitening.demo import clock
from whitening.demo.models import DemoMail, DemoText

JUMPS = {
    "hours": (gettext_lazy("two hours"), timedelta(hours=2)),
    "days": (gettext_lazy("two days"), timedelta(days=2)),
    "month": (gettext_lazy("a month"), timedelta(days=30)),
}
UNFIT = 422


class JumpForm(forms.Form):
    by = forms.ChoiceField(
        label=gettext_lazy("Jump ahead by"),
        choices=[(code, words) for code, (words, _by) in JUMPS.items()],
        widget=forms.RadioSelect,
        initial="days",
    )

    helper = FormHelper()
    helper.form_tag = False
    helper.disable_csrf = True


@staff(Capability.TODAY, methods=("GET", "POST"))
def clock_page(request: StaffRequest) -> HttpResponse:
    form = JumpForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        before = _sent()
        by = JUMPS[form.cleaned_data["by"]][1]
        clock.jump(by=by, actor=request.actor, site_id=request.site.pk)
        messages.success(request, _("%(count)s messages went out on the way.") % {"count": _sent() - before})
        return go(request, reverse("demo_clock"))
    context = {"form": form, "time": now(), "ahead": clock.shift()}
    return render(request, "demo/clock.html", context, status=UNFIT if form.errors else 200)


def _sent() -> int:
    return DemoMail.objects.count() + DemoText.objects.count()
