"""Sentences that stand in data files and are translated like any other.

The extractor of gettext reads Python, not our data; extracted.py repeats every sentence for it, and a
test holds the two together.
"""

from django.utils.translation import gettext_lazy
from django_stubs_ext import StrOrPromise

Words = StrOrPromise


def words(text: str) -> Words:
    """Looked up in the reader's language when it is shown; the English text is the key."""
    return gettext_lazy(text) if text else ""
