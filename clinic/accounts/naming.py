"""Names of people, cut short."""


def initials(name: str) -> str:
    """Such as "A. N."."""
    return " ".join(f"{word[0]}." for word in name.split())
