"""Set-up of the local rules: the list, one rule with its sources and earlier versions, and writing over it.

What a rule says may be read by everybody at the practice: a plan names the version that it was judged by.
"""

from datetime import date

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.models import Site
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import Capability, may
from clinic.trail.clock import now
from whitening.cases.views.versions import Difference, both
from whitening.screening.actions import LocalRuleNotKept, change_local_rule
from whitening.screening.forms import LocalRuleForm
from whitening.screening.jurisdictions import Jurisdiction, jurisdictions, shipped_rows
from whitening.screening.local_rules import all_rules, newest_change, own_row, rule_as_it_was, rule_of
from whitening.screening.models import LocalRuleChange
from whitening.screening.own_rules import columns_in_force, in_force, is_behind
from whitening.screening.rule_lines import age_words, lines_of, strength_words
from whitening.screening.verdicts import facts_are_old


@staff(Capability.SETUP)
def local_rules(request: StaffRequest) -> HttpResponse:
    """Those of the person's own sites come first."""
    sites, today = _sites(request), _today(request)
    rows = [
        {
            "place": place,
            "sites": [site for site in sites if site.jurisdiction == place.code],
            "strength": strength_words(place),
            "age": age_words(place),
            "is_old": facts_are_old(jurisdiction=place, today=today),
        }
        for place in all_rules()
    ]
    rows.sort(key=lambda row: not row["sites"])
    return render(request, "screening/setup/local_rules.html", {"rows": rows})


@staff(Capability.TODAY)
def local_rule(request: StaffRequest, code: str) -> HttpResponse:
    place = rule_of(code)
    if place is None:
        raise Http404
    return _rule_page(request, place)


@staff(Capability.TODAY)
def local_rule_version(request: StaffRequest, code: str, version: str) -> HttpResponse:
    """As it stood when a plan was judged by it."""
    place = rule_as_it_was(code, version)
    if place is None:
        raise Http404
    return _rule_page(request, place)


@staff(Capability.SETUP, methods=("GET", "POST"))
def local_rule_change(request: StaffRequest, code: str) -> HttpResponse:
    if code not in jurisdictions():
        raise Http404
    held = newest_change(code)
    columns = columns_in_force(code, own_row(code))
    if request.method != "POST":
        form = LocalRuleForm.of(columns, held=held, checked_on=_today(request))
        return _form_page(request, code, form)
    form, theirs = LocalRuleForm(request.POST), None
    if form.is_valid():
        try:
            row = _save(request, code, form)
        except LocalRuleNotKept as refusal:
            form.take(refusal.faults)
        except ChangedMeanwhile as refusal:
            theirs = _both(code, form)
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _kept_words(row))
            return redirect("local_rule", code=code)
    return _form_page(request, code, form, theirs)


def _save(request: StaffRequest, code: str, form: LocalRuleForm) -> LocalRuleChange:
    return change_local_rule(
        code=code,
        details=form.details(),
        seen_version=form.cleaned_data["seen_version"],
        at=request.site,
        user=request.user,
        actor=request.actor,
        now=now(),
    )


def _both(code: str, form: LocalRuleForm) -> list[Difference]:
    """Read again: what overtook this form is newer than what the page began with."""
    held = newest_change(code)
    if held is None:
        return []
    saved = LocalRuleForm.as_saved(columns_in_force(code, own_row(code)), held)
    return both(typed=form, saved=saved, version=held.version)


def _kept_words(row: LocalRuleChange) -> str:
    if not row.values:
        return _("It is written down that these rules were checked. They are the program's own.")
    return _("The rule is kept as own version %(number)d. It holds from now on, for plans made before too.") % {
        "number": row.version
    }


def _rule_page(request: StaffRequest, place: Jurisdiction) -> HttpResponse:
    in_force_now = rule_of(place.code)
    shipped = in_force(place.code, None, version=place.version.partition(".")[0])
    context = {
        "place": place,
        "shipped_quality": (shipped or place).quality,
        "lines": lines_of(place, shipped=shipped or place),
        "in_force": in_force_now,
        "is_in_force": in_force_now is not None and in_force_now.version == place.version,
        "is_old": facts_are_old(jurisdiction=place, today=_today(request)),
        "is_behind": is_behind(place),
        "sites": [site for site in _sites(request) if site.jurisdiction == place.code],
        "changes": LocalRuleChange.objects.filter(code=place.code).select_related("changed_by").order_by("-version"),
        "shipped_versions": [row["version"] for row in reversed(shipped_rows()[place.code])],
        "may_change": may(request.user, Capability.SETUP, request.site),
    }
    return render(request, "screening/setup/local_rule.html", context)


def _form_page(
    request: StaffRequest, code: str, form: LocalRuleForm, theirs: list[Difference] | None = None
) -> HttpResponse:
    context = {"form": form, "place": jurisdictions()[code], "theirs": theirs}
    status = 409 if theirs is not None else 422 if form.is_bound else 200
    return render(request, "screening/setup/local_rule_change.html", context, status=status)


def _sites(request: StaffRequest) -> list[Site]:
    return list(Site.objects.visible_to(request.user))


def _today(request: StaffRequest) -> date:
    return now().astimezone(request.site.zone).date()
