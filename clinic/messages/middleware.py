"""Lets the patient's pages keep "no-referrer" and still be protected against forged forms."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

UNDER = "/p/"
OURSELVES = frozenset({"same-origin", ""})


class PrivatePageOrigin:
    """A page with "no-referrer" sends its own forms with "Origin: null", which Django's check refuses.

    For the patient's pages such a form is let through to the check of its token, unless the browser
    itself says (Sec-Fetch-Site, which no page can set) that it comes from elsewhere.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        sent_by = request.headers.get("Sec-Fetch-Site", "")
        if request.path.startswith(UNDER) and request.headers.get("Origin") == "null" and sent_by in OURSELVES:
            request.META["HTTP_ORIGIN"] = f"{request.scheme}://{request.get_host()}"
        return self.get_response(request)
