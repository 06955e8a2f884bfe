"""The invited person's page: looking at it uses nothing up, sending the form does."""

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters

from clinic.accounts.actions import invitations
from clinic.accounts.doors import public
from clinic.accounts.forms.people import JoinForm
from clinic.accounts.refusals import AddressTaken, InvitationClosed
from clinic.trail.clock import real_now


@public(reason="The link of an invitation; whoever holds it has no sign-in yet.", methods=("GET", "POST"))
@sensitive_post_parameters()
def invitation(request: HttpRequest, token: str) -> HttpResponse:
    now = real_now()
    try:
        found = invitations.find(token=token, now=now)
        form = JoinForm(
            request.POST if request.method == "POST" else None,
            email=found.email,
            initial={"name": found.name, "language": get_language()},
        )
        if form.is_valid():
            invitations.accept(token=token, person=form.person(), now=now)
            messages.success(request, _("Welcome. Sign in with your address and the new password."))
            return redirect(settings.LOGIN_URL)
    except (InvitationClosed, AddressTaken) as refusal:
        return render(request, "accounts/invitation_closed.html", {"sentence": str(refusal)}, status=410)
    context = {"form": form, "invitation": found}
    return render(request, "accounts/invitation.html", context, status=422 if form.is_bound else 200)
