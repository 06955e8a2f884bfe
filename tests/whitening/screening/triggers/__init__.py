"""The table of every rule's trigger, a module to a part of the body."""

from tests.whitening.screening.triggers import body, general, history, light, mouth, system
from tests.whitening.screening.triggers.row import Row

TABLE: list[Row] = [*system.ROWS, *body.ROWS, *light.ROWS, *mouth.ROWS, *history.ROWS, *general.ROWS]

__all__ = ["TABLE", "Row"]
