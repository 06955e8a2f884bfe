"""What the test client gives back, under a name that can be written down."""

from typing import TYPE_CHECKING

from django.http import HttpResponse

if TYPE_CHECKING:
    # With `context`, `redirect_chain` and the rest, which only the type stubs spell out.
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer
else:
    Answer = HttpResponse

__all__ = ["Answer"]
