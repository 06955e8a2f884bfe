"""Two records are one person: asked back once of each kind, by what was planned last."""

from clinic.patients import merging
from clinic.patients.merging import Joining, Moved
from whitening.recall.actions.recalling import end_older_recalls


def _move(joining: Joining) -> Moved:
    """Follow-ups and recalls hang on their cases; of each treatment it is asked how it was."""
    end_older_recalls(joining.both, actor=joining.actor, now=joining.now)
    return {}


ROOM = merging.Room(code="recall", move=_move)
