"""What an incoming mail says: a message of ours came back (RFC 3464), or somebody wants no more of them. Pure.

Both are believed only where the mail names the Message-ID of ours: nobody else knows it.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage, Message
from itertools import zip_longest

REPORT, STATUS = "multipart/report", "message/delivery-status"
# Of printable ASCII, as ours are: encoded words may hold a null byte, which no database is asked for.
_ID = re.compile(r"<[!-;=?-~]+@[!-;=?-~]+>")
# The whole of what somebody writes, in the languages spoken here; a longer mail is for a person to read.
OPT_OUT = frozenset({
    "stop", "unsubscribe", "end", "no more", "no more mails", "no more messages",
    "abmelden", "abbestellen", "keine mails mehr", "keine nachrichten mehr",
    "baja", "no más mensajes", "إلغاء", "إلغاء الاشتراك",
})  # fmt: skip
_NOT_WORDS = re.compile(r"[^\w\s]")


@dataclass(frozen=True, slots=True)
class CameBack:
    """For good: a mail that is only delayed says nothing yet."""

    message_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OptOut:
    message_ids: tuple[str, ...]


def read(content: bytes) -> CameBack | OptOut | None:
    """None: a mail for a person."""
    mail = message_from_bytes(content, policy=policy.default)
    if mail.get_content_type() == REPORT:
        return CameBack(tuple(_returned(mail))) if _has_failed(mail) else None
    if str(mail.get("Auto-Submitted", "no")).partition(";")[0].strip().lower() != "no":
        # Away until Monday, and the like: nobody has read it.
        return None
    answered = _ids(f"{mail.get('In-Reply-To', '')} {mail.get('References', '')}")
    return OptOut(answered) if answered and _wants_no_more(mail) else None


def _has_failed(mail: Message) -> bool:
    """RFC 3464, 2.3.3 and 2.3.4: the action is "failed" and the status of the fifth class."""
    for part in mail.walk():
        if part.get_content_type() == STATUS:
            for group in _inside(part):
                action = str(group.get("Action", "")).strip().lower()
                if action == "failed" and str(group.get("Status", "")).strip().startswith("5"):
                    return True
    return False


def _returned(mail: Message) -> Iterator[str]:
    """The third part of a report holds the mail or its head (RFC 6522, 3)."""
    for part in mail.walk():
        if part.get_content_type() == "text/rfc822-headers":
            head = part.get_payload(decode=True)
            yield from _ids(str(message_from_bytes(head).get("Message-ID", "")) if isinstance(head, bytes) else "")
        elif part.get_content_type() == "message/rfc822":
            for inner in _inside(part):
                yield from _ids(str(inner.get("Message-ID", "")))


def _inside(part: Message) -> list[Message]:
    """Of a broken mail the content may be text where parts were announced."""
    content = part.get_payload()
    return [each for each in content if isinstance(each, Message)] if isinstance(content, list) else []


def _ids(text: str) -> tuple[str, ...]:
    return tuple(_ID.findall(text))


def _wants_no_more(mail: EmailMessage) -> bool:
    """Nothing else stands in it: whatever is written, drawn or attached beside it, a person has to see."""
    body = mail.get_body(preferencelist=("plain",))
    if body is None or any(mail.iter_attachments()):
        return False
    own = list(_own_lines(body.get_content()))
    said = own or [str(mail.get("Subject", ""))]
    return len(said) == 1 and _plain(said[0]) in OPT_OUT


def _own_lines(text: str) -> Iterator[str]:
    """Without what is quoted, and without the line right above it that says whose words those are."""
    lines = [line for line in map(str.strip, text.splitlines()) if line]
    for line, below in zip_longest(lines, lines[1:], fillvalue=""):
        is_introduction = line.endswith(":") and below.startswith(">")
        if not line.startswith(">") and not is_introduction:
            yield line


def _plain(text: str) -> str:
    return " ".join(_NOT_WORDS.sub(" ", text).casefold().split())
