"""Set-up: whether replies to texts reach the site, and why texts are held back until they do."""

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts.access import access_site
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import Site
from clinic.accounts.phones import TelephoneFormField
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability
from clinic.messages import text_replies
from clinic.messages.actions.replies import say_replies
from clinic.messages.channels import text
from clinic.messages.models import ReplyRule, TextReplies
from clinic.trail.clock import now


class RepliesForm(forms.Form):
    rule = forms.ChoiceField(
        label=gettext_lazy("Does local law want that patients can answer a text?"),
        choices=ReplyRule.choices,
        widget=forms.RadioSelect,
    )
    number = TelephoneFormField(
        label=gettext_lazy("Number on which replies reach you"),
        required=False,
        help_text=gettext_lazy("Only once you have tried it: somebody reads what arrives there. Else leave it empty."),
        error_messages={"invalid": gettext_lazy("That is not a telephone number. Begin with + and the country code.")},
    )
    seen_version = forms.IntegerField(widget=forms.HiddenInput)

    @classmethod
    def of(cls, held: TextReplies | None) -> "RepliesForm":
        if held is None:
            return cls(initial={"rule": ReplyRule.BY_COUNTRY, "seen_version": 0})
        return cls(initial={"rule": held.rule, "number": held.number, "seen_version": held.version})


@staff(Capability.SETUP, methods=("GET", "POST"))
def replies(request: StaffRequest, pk: int) -> HttpResponse:
    site = access_site(user=request.user, pk=pk, to=Capability.SETUP)
    form = RepliesForm(request.POST) if request.method == "POST" else RepliesForm.of(text_replies.said_of(site))
    form.fields["number"].region = site.country  # type: ignore[attr-defined]
    status = 422 if form.is_bound else 200
    if form.is_bound and form.is_valid():
        try:
            _save(request, site, form)
        except ChangedMeanwhile as refusal:
            form.add_error(None, str(refusal))
            status = 409
            site = access_site(user=request.user, pk=pk, to=Capability.SETUP)
            # The next press saves this version over the other, which stands beside it now.
            form.data = request.POST.copy()
            form.data["seen_version"] = str(_version_of(site))
        else:
            messages.success(request, _("Saved."))
            return redirect("setup")
    context = {
        "form": form,
        "site": site,
        "said": text_replies.said_of(site),
        "country_rule": text_replies.country_rules().get(site.country),
        "held_back": text_replies.are_held_back(site),
        "texts_on": text.is_on(),
    }
    return render(request, "messages/setup/replies.html", context, status=status)


def _save(request: StaffRequest, site: Site, form: RepliesForm) -> None:
    data = form.cleaned_data
    say_replies(
        site=site,
        rule=ReplyRule(data["rule"]),
        number=data["number"].as_e164 if data["number"] else "",
        seen_version=data["seen_version"],
        user=request.user,
        actor=request.actor,
        now=now(),
    )


def _version_of(site: Site) -> int:
    held = text_replies.said_of(site)
    return held.version if held else 0
