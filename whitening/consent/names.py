"""Whether two names are one person's, as far as letters can tell. Pure."""

from clinic.patients.rules import folded


def is_same_name(one: str, other: str) -> bool:
    """Capitals, accents, signs between the words and their order say nothing: forms are filled in in capitals."""
    return sorted(folded(one).split()) == sorted(folded(other).split())
