"""Where the mail provider reports what became of a mail."""

from django.http import Http404, HttpRequest, HttpResponseBase
from django.views.decorators.csrf import csrf_exempt

from clinic.accounts.doors import public
from clinic.messages import events


@csrf_exempt
@public(reason="the mail provider has no account; it knows the secret, or signs what it says", methods=("POST",))
def mail_events(request: HttpRequest) -> HttpResponseBase:
    """404 unless reports are switched on; a wrong secret or signature is refused with 400 and changes nothing."""
    receiver = events.receiver()
    if receiver is None:
        raise Http404
    return receiver(request)
