"""Keeps out of the log what is nobody's business there: secrets of addresses, and what people typed."""

import json
import logging
import re
from datetime import UTC, datetime
from http import HTTPStatus

# A path segment as long as a secret of ours; no name or number in an address is.
_SECRET = re.compile(r"(?<=/)[A-Za-z0-9_-]{32,}(?=[/?\s]|$)")
# PostgreSQL adds the refused values to its sentence ("Key (email)=(…) already exists."), in a
# traceback over several lines, in a worker's one line with written-out line ends.
_NAMES = "DETAIL|CONTEXT|STATEMENT"
_VALUES = re.compile(rf"^(?P<what>{_NAMES}):.*?(?=\n\s*\n(?:The above|During handling)|\Z)", re.DOTALL | re.MULTILINE)
_VALUES_IN_ONE_LINE = re.compile(rf"(?P<what>\\n(?:{_NAMES})):[^\n]*")
_OF_EVERY_RECORD = frozenset(vars(logging.makeLogRecord({})))
_QUOTED = re.compile(r"(invalid (?:input syntax|value|input value) [^:\n]*: ).*")


class HideSecrets(logging.Filter):
    def filter(self, record: logging.LogRecord) -> bool:
        words = record.getMessage()
        hidden = _SECRET.sub("…", words)
        if hidden != words:
            record.msg, record.args = hidden, ()
        return True


class QuietFormatter(logging.Formatter):
    """A refused request is one line, and no traceback repeats the values that a database refused."""

    def format(self, record: logging.LogRecord) -> str:
        if _is_refusal(record):
            # Anybody can cause these at will: where in our code they were noticed helps nobody.
            record.exc_info = record.exc_text = None
        return hide_values(super().format(record))


class JsonFormatter(QuietFormatter):
    """One JSON object a line, for programs that read logs. Of what was logged beside the sentence only ids."""

    def format(self, record: logging.LogRecord) -> str:
        # Writes the traceback, where there is one, into exc_text.
        super().format(record)
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, tz=UTC).isoformat(),
            "level": record.levelname,
            "logger": record.name,
            "message": hide_values(record.getMessage()),
        }
        line |= {name: value for name, value in sorted(vars(record).items()) if _is_id(name, value)}
        if record.exc_text:
            line["traceback"] = hide_values(record.exc_text)
        return json.dumps(line, ensure_ascii=False)


def _is_id(name: str, value: object) -> bool:
    """Of what a caller adds (`extra`): the number of a row, a status. Anything else may be somebody's words."""
    return name not in _OF_EVERY_RECORD and isinstance(value, int)


def _is_refusal(record: logging.LogRecord) -> bool:
    """A request that Django found unsafe, or one that was answered with a 4xx: wrong role, no such page."""
    status = getattr(record, "status_code", HTTPStatus.INTERNAL_SERVER_ERROR)
    return record.name.startswith("django.security.") or (
        record.name == "django.request" and status < HTTPStatus.INTERNAL_SERVER_ERROR
    )


def hide_values(text: str) -> str:
    for pattern in (_VALUES, _VALUES_IN_ONE_LINE):
        text = pattern.sub(r"\g<what>: …", text)
    return _SECRET.sub("…", _QUOTED.sub(r"\1…", text))
