"""A letter's text as paragraphs of HTML with its addresses as links: what Django's `urlize` and `linebreaks` make of
it, with less searching. Only a line in which an address may stand is looked through word by word.
"""

import re

from django.utils.html import escape, linebreaks, urlize
from django.utils.safestring import SafeString, mark_safe

_MAY_HOLD_ONE = re.compile(r"https?:|www\.|@|\.(?:com|edu|gov|int|mil|net|org)", re.IGNORECASE)
# As our own links are written: nothing in it has to be quoted or trimmed.
_PLAIN_LINK = re.compile(r"https?://[a-z0-9][a-z0-9.-]*(?::\d+)?/(?:[A-Za-z0-9_-]+/)*")


def paragraphs(text: str) -> SafeString:
    marked = "\n".join(_marked(line) for line in text.split("\n"))
    return mark_safe(linebreaks(marked))  # noqa: S308  (each line is escaped)


def _marked(line: str) -> str:
    if not _MAY_HOLD_ONE.search(line):
        return escape(line)
    if _PLAIN_LINK.fullmatch(line):
        return f'<a href="{line}" rel="nofollow">{line}</a>'
    return str(urlize(line, nofollow=True, autoescape=True))
