"""People of the site, for managers: rights, ending access, lost second factors, invitations."""

from collections.abc import Callable
from functools import partial

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from clinic.accounts.access import access_invitation, access_person
from clinic.accounts.actions import invitations, people
from clinic.accounts.doors import StaffRequest, staff
from clinic.accounts.forms.people import InviteForm, PersonForm
from clinic.accounts.models import Invitation, Role, User
from clinic.accounts.refusals import AddressTaken, AlreadyInvited
from clinic.accounts.rights import Capability
from clinic.accounts.sessions import has_factor
from clinic.trail.clock import now, real_now
from clinic.trail.refusals import Refusal

PEOPLE = Capability.PEOPLE


@staff(PEOPLE)
def people_list(request: StaffRequest) -> HttpResponse:
    at = real_now()
    here = User.objects.filter(memberships__site=request.site).distinct().prefetch_related("memberships")
    rows = [(person, _roles_here(person, request.site.pk)) for person in here]
    invited = [one for one in request.site.invitations.all() if one.is_open(at)]
    return render(request, "setup/people.html", {"rows": rows, "invited": invited})


@staff(PEOPLE, methods=("GET", "POST"))
def person(request: StaffRequest, pk: int) -> HttpResponse:
    held = access_person(user=request.user, site=request.site, pk=pk, to=PEOPLE)
    form = PersonForm(request.POST) if request.method == "POST" else PersonForm.of(held, site=request.site)
    if form.is_bound and form.is_valid():
        try:
            people.change_person(
                person=held,
                site=request.site,
                details=form.details(),
                roles=form.chosen_roles(),
                user=request.user,
                actor=request.actor,
                now=now(),
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, _("Saved."))
            return redirect("people")
    context = {"form": form, "held": held, "is_self": held.pk == request.user.pk, "has_factor": has_factor(held)}
    return render(request, "setup/person.html", context, status=422 if form.is_bound else 200)


@staff(PEOPLE, methods=("POST",))
def person_end(request: StaffRequest, pk: int) -> HttpResponse:
    return _press(request, pk, partial(people.deactivate, now=now()), _("Access has ended, at every computer."))


@staff(PEOPLE, methods=("POST",))
def person_return(request: StaffRequest, pk: int) -> HttpResponse:
    return _press(request, pk, people.reactivate, _("This person can sign in again."))


@staff(PEOPLE, methods=("POST",))
def person_factor(request: StaffRequest, pk: int) -> HttpResponse:
    return _press(request, pk, people.reset_factor, _("The lost second factor opens nothing any more."))


@staff(PEOPLE, methods=("GET", "POST"))
def invite(request: StaffRequest) -> HttpResponse:
    form = InviteForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        data = form.cleaned_data
        try:
            held = invitations.invite(
                site=request.site,
                email=data["email"],
                name=data["name"],
                role=Role(data["role"]),
                user=request.user,
                actor=request.actor,
                now=real_now(),
            )
        except (AddressTaken, AlreadyInvited) as refusal:
            form.add_error("email", str(refusal))
        else:
            _say_whether_it_left(request, held)
            return redirect("people")
    return render(request, "setup/invite.html", {"form": form}, status=422 if form.is_bound else 200)


@staff(PEOPLE, methods=("POST",))
def invitation_again(request: StaffRequest, pk: int) -> HttpResponse:
    held = access_invitation(user=request.user, pk=pk, to=PEOPLE)
    try:
        invitations.send_again(invitation=held, user=request.user, actor=request.actor, now=real_now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        _say_whether_it_left(request, held)
    return redirect("people")


@staff(PEOPLE, methods=("POST",))
def invitation_revoke(request: StaffRequest, pk: int) -> HttpResponse:
    held = access_invitation(user=request.user, pk=pk, to=PEOPLE)
    try:
        invitations.revoke(invitation=held, user=request.user, actor=request.actor, now=real_now())
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, _("The invitation opens nothing any more."))
    return redirect("people")


def _say_whether_it_left(request: StaffRequest, held: Invitation) -> None:
    held.refresh_from_db(fields=["mailed_at"])
    if held.mailed_at is None:
        sentence = _("The mail server did not take the letter. Look at the mail settings, then send it again below.")
        messages.warning(request, sentence)
    else:
        messages.success(request, _("The invitation is on its way. It is open for three days."))


def _press(request: StaffRequest, pk: int, action: Callable[..., None], done: str) -> HttpResponse:
    held = access_person(user=request.user, site=request.site, pk=pk, to=PEOPLE)
    try:
        action(person=held, site=request.site, user=request.user, actor=request.actor)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirect("person", pk=held.pk)
    messages.success(request, done)
    return redirect("people")


def _roles_here(person: User, site_id: int) -> list[str]:
    return [str(one.get_role_display()) for one in person.memberships.all() if one.site_id == site_id]
