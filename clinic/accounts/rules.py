"""Small decisions about sign-in that need neither database nor clock."""

from datetime import timedelta
from typing import Final

# NIST SP 800-63B-4 asks for at least 6 digits where a PIN alone opens an account; here it opens the lock
# of a session that was begun with password and second factor, five tries long: four are common practice.
PIN_LENGTHS: Final = range(4, 9)
PIN_TRIES: Final = 5
# Long enough for a weekend that begins on Friday evening, short enough for a forgotten mailbox.
INVITATION_LASTS: Final = timedelta(hours=72)
_ROWS: Final = ("01234567890", "09876543210")


def is_simple_pin(pin: str) -> bool:
    """All the same, or a run up or down the keypad: the ones that are tried first."""
    return len(set(pin)) == 1 or any(pin in row for row in _ROWS)


def tries_left(failures: int) -> int:
    return max(0, PIN_TRIES - failures)
