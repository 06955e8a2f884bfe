"""The list of the day at the chair: its items for this patient, and their numbers for the wire."""

from whitening.chairside.models import Session
from whitening.screening.reading import answers_of
from whitening.screening.reask import ReaskItem, reask_items, reask_list


def items_for(session: Session) -> tuple[ReaskItem, ...]:
    """Without answers nobody knows what may be left out, so the whole list is asked."""
    answers = answers_of(session.case)
    return reask_items(answers) if answers is not None else reask_list().items


def numbered(session: Session) -> list[tuple[int, ReaskItem]]:
    """An item's number is its place in the whole list: what a browser keeps tells nobody what was asked."""
    everything = reask_list().items
    return [(everything.index(item), item) for item in items_for(session)]


def ids_of(numbers: str) -> frozenset[str]:
    """What is no number of the list is nothing that was shown."""
    given = set(numbers.split("."))
    return frozenset(item.id for place, item in enumerate(reask_list().items) if str(place) in given)
