"""The cast, for the empty database of a world; tests/furnish.py calls it once Django is set up."""

from tests.cast import open_practice


def fill() -> None:
    open_practice()
