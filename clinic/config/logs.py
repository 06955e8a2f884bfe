"""Keeps the secrets of addresses out of the log: private links, invitations, new passwords."""

import logging
import re

# A path segment as long as a secret of ours; no name or number in an address is.
_SECRET = re.compile(r"(?<=/)[A-Za-z0-9_-]{32,}(?=[/?\s]|$)")


class HideSecrets(logging.Filter):
    def filter(self, record: logging.LogRecord) -> bool:
        words = record.getMessage()
        hidden = _SECRET.sub("…", words)
        if hidden != words:
            record.msg, record.args = hidden, ()
        return True
