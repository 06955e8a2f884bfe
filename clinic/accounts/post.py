"""Letters to staff. They leave at once, and a mail server that is away never breaks a sign-in."""

import logging

from django.core.mail import EmailMessage

log = logging.getLogger(__name__)


class LetterNotTaken(Exception):
    """What a mail backend of ours raises when the server did not take the letter, or may not have."""


def send(letter: EmailMessage) -> bool:
    """Whether the server took it. The log gets the kind of failure, and neither address nor content."""
    try:
        letter.send()
    except (OSError, LetterNotTaken) as failure:
        log.warning("The mail server did not take a letter to staff: %s", type(failure).__name__)
        return False
    return True
