"""Every verb the trail may hold, with the sentence that history shows for it.

Each app registers its own in `AppConfig.ready`; the dictionary key is `<app>.<what happened>`.
"""

import re
from collections.abc import Mapping

from django.utils.functional import Promise

_SHAPE = re.compile(r"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)+")
_verbs: dict[str, str | Promise] = {}


class UnknownVerb(LookupError):
    """A programming error, not a refusal: the verb was never registered."""


def register(sentences: Mapping[str, str | Promise]) -> None:
    for verb, sentence in sentences.items():
        if not _SHAPE.fullmatch(verb) or len(verb) > 80:
            raise ValueError(f"{verb!r} is no verb. Write it as part.what_happened, at most 80 characters.")
        if _verbs.get(verb, sentence) is not sentence:
            raise ValueError(f"The verb {verb!r} is registered twice with different sentences.")
        _verbs[verb] = sentence


def sentence(verb: str) -> str | Promise:
    try:
        return _verbs[verb]
    except KeyError:
        raise UnknownVerb(f"The verb {verb!r} is not registered. Add it to the part's verbs.py.") from None


def registered() -> Mapping[str, str | Promise]:
    return dict(_verbs)
