"""Whether something rests on a paper that came in: who decides or agrees with papers says so here.

Such a paper is no mistake any more: first what rests on it is settled.
"""

from collections.abc import Callable

from clinic.documents.models import IncomingPaper

Rests = Callable[[IncomingPaper], bool]
_asked: list[Rests] = []


def register(rests: Rests) -> None:
    if rests not in _asked:
        _asked.append(rests)


def on(paper: IncomingPaper) -> bool:
    return any(rests(paper) for rests in _asked)
