"""The screen lock."""

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode

from clinic.accounts import bench, sessions
from clinic.accounts.actions import screen
from clinic.accounts.doors import StaffRequest, nearest_page, staff
from clinic.accounts.forms.own import TakeOverForm, UnlockForm
from clinic.accounts.pages import first_page
from clinic.accounts.refusals import NotOnThisScreen, TooManyTries, WrongPin, WrongSecret
from clinic.accounts.rights import Capability
from clinic.trail.clock import real_now

OWN = Capability.OWN_ACCOUNT


@staff(OWN, methods=("GET", "POST"), before_factor=True, while_locked=True)
def lock(request: StaffRequest) -> HttpResponse:
    """POST locks now. GET asks for the PIN, or leads back when nothing is locked."""
    if request.method == "POST":
        sessions.lock(request)
        back = _back(request)
        return redirect(f"{reverse('lock')}?{urlencode({'next': back})}" if back else reverse("lock"))
    if not sessions.is_locked(request, real_now()):
        return redirect(_back(request) or first_page(request.user))
    return _page(request, unlocking=UnlockForm())


@staff(OWN, methods=("POST",), before_factor=True, while_locked=True)
def unlock(request: StaffRequest) -> HttpResponse:
    form = UnlockForm(request.POST)
    if not form.is_valid():
        return _page(request, unlocking=form)
    try:
        screen.open_lock(user=request.user, typed=form.cleaned_data["typed"])
    except WrongSecret as refusal:
        form.add_error("typed", str(refusal))
        return _page(request, unlocking=form)
    except TooManyTries as refusal:
        bench.leave_seat(request, request.user)
        messages.warning(request, str(refusal))
        return redirect(settings.LOGIN_URL)
    sessions.unlock(request, real_now())
    return redirect(_back(request) or first_page(request.user))


@staff(OWN, methods=("POST",), before_factor=True, while_locked=True)
def take_over(request: StaffRequest) -> HttpResponse:
    """Hands the screen to a colleague who has signed in here today: their PIN, a new session key."""
    form, now = TakeOverForm(request.POST), real_now()
    if not form.is_valid():
        return _page(request, unlocking=UnlockForm(), taking_over=form)
    try:
        user = bench.find(request, user_id=form.cleaned_data["person"], now=now)
        screen.take_over(user=user, pin=form.cleaned_data["pin"])
    except NotOnThisScreen as refusal:
        messages.error(request, str(refusal))
        return redirect("lock")
    except (WrongPin, TooManyTries) as refusal:
        form.add_error("pin", str(refusal))
        return _page(request, unlocking=UnlockForm(), taking_over=form)
    bench.hand_over(request, user=user)
    return redirect(first_page(user))


@staff(OWN, methods=("POST",), before_factor=True, while_locked=True)
def somebody_else(request: StaffRequest) -> HttpResponse:
    bench.make_room(request, request.user)
    return redirect(settings.LOGIN_URL)


@staff(OWN, methods=("POST",), before_factor=True)
def still_here(_request: StaffRequest) -> HttpResponse:
    """Somebody types or points on a page that asks for nothing meanwhile; coming through the door is what counts."""
    return HttpResponse(status=204)


def _page(request: StaffRequest, *, unlocking: UnlockForm, taking_over: TakeOverForm | None = None) -> HttpResponse:
    others = bench.others(request, real_now())
    context = {
        "unlocking": unlocking,
        "others": [(user, TakeOverForm.about(user, sent=taking_over)) for user in others],
        "back": _back(request),
    }
    wrong = unlocking.is_bound or taking_over is not None
    return render(request, "accounts/lock.html", context, status=422 if wrong else 200)


def _back(request: StaffRequest) -> str:
    """An address of ours, or nothing: a crafted link must not lead out of the house after unlocking."""
    address: str = request.POST.get("next", "") or request.GET.get("next", "")
    safe = url_has_allowed_host_and_scheme(
        address, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return nearest_page(address) if safe else ""
