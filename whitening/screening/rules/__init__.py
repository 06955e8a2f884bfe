"""The rules as functions, a module to a part of the body, and the one function that asks them all."""

from whitening.screening.rules import body, general, history, looks, mouth, system
from whitening.screening.rules.evaluate import evaluate
from whitening.screening.rules.readings import PREDICATES

__all__ = ["PREDICATES", "body", "evaluate", "general", "history", "looks", "mouth", "system"]
