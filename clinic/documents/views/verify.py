"""The public check of a sheet."""

from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import csrf_exempt, csrf_protect

from clinic.accounts.doors import public
from clinic.documents.failures import TooManyChecks
from clinic.documents.forms import VerifyForm
from clinic.documents.throttle import count_try, source_of
from clinic.documents.uploads import FingerprintHandler
from clinic.documents.verification import look_up
from clinic.trail.clock import real_now


# Exempt only from the check that would read the form before our upload handler is in its place.
@csrf_exempt
@public(reason="anybody who holds a sheet may ask whether it is genuine", methods=("GET", "POST"))
def verify(request: HttpRequest) -> HttpResponse:
    handler = FingerprintHandler(request)
    request.upload_handlers = [handler]
    return _verify(request, handler=handler)


@csrf_protect
def _verify(request: HttpRequest, *, handler: FingerprintHandler) -> HttpResponse:
    if request.method != "POST":
        return _page(request, VerifyForm(), status=HTTPStatus.OK)
    # Reading the form is what lets the file stream past; only then is it known whether it was too big.
    posted, files = request.POST, request.FILES
    form = VerifyForm(posted, files, is_too_big=handler.is_too_big)
    if not form.is_valid():
        return _page(request, form, status=HTTPStatus.UNPROCESSABLE_ENTITY)
    try:
        count_try(source=source_of(request), now=real_now())
    except TooManyChecks as refusal:
        form.add_error(None, str(refusal))
        return _page(request, form, status=HTTPStatus.TOO_MANY_REQUESTS)
    verdict = look_up(code=form.cleaned_data["code"], file=form.cleaned_data["file"])
    return _page(request, form, status=HTTPStatus.OK, verdict=verdict)


def _page(request: HttpRequest, form: VerifyForm, *, status: HTTPStatus, **context: object) -> HttpResponse:
    return render(request, "documents/verify.html", {"form": form, **context}, status=status)
