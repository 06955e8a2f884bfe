"""A mailbox on this machine that speaks as much IMAP (RFC 3501) as is asked of it."""

import re
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

USER, PASSWORD = "rooms@example.org", "a password / with @"


@dataclass
class ImapMailbox:
    """Mails by their UID, and the flags of each. `port` 0: it is closed."""

    mails: dict[int, bytes] = field(default_factory=dict)
    flags: dict[int, set[str]] = field(default_factory=dict)
    port: int = 0
    validity: int = 1
    # Without: a flag that is not the server's own is dropped (7.1).
    keeps_words: bool = True
    # Mails that it does not hand out: of these it says no.
    broken: set[int] = field(default_factory=set)

    def put(self, content: bytes) -> int:
        uid = len(self.mails) + 1
        self.mails[uid], self.flags[uid] = content, set()
        return uid


class _Server(socketserver.ThreadingTCPServer):
    allow_reuse_address = daemon_threads = True
    mailbox: ImapMailbox


class _Dialogue(socketserver.StreamRequestHandler):
    server: _Server

    def handle(self) -> None:
        self._say("* OK ready")
        while line := self.rfile.readline().decode().strip():
            tag, _space, command = line.partition(" ")
            self._say(*self._untagged(command), f"{tag} {self._answer(command)}")
            if command.upper() == "LOGOUT":
                return

    def _answer(self, command: str) -> str:
        if command.startswith("LOGIN ") and command != f'LOGIN {USER} "{PASSWORD}"':
            return "NO wrong"
        asked = re.match(r"UID FETCH (\d+)", command)
        if asked and int(asked[1]) in self.server.mailbox.broken:
            return "NO it is damaged"
        return "OK done"

    def _untagged(self, command: str) -> Iterator[str]:
        box = self.server.mailbox
        if command == "CAPABILITY":
            yield "* CAPABILITY IMAP4rev1"
        elif command.startswith("SELECT"):
            yield f"* {len(box.mails)} EXISTS"
            yield f"* OK [UIDVALIDITY {box.validity}] numbered"
        elif found := re.fullmatch(r"UID SEARCH UNSEEN UNKEYWORD (\S+)", command):
            unread = [uid for uid, flags in box.flags.items() if not flags & {r"\Seen", found[1]}]
            yield "* SEARCH " + " ".join(map(str, unread))
        elif found := re.fullmatch(r"UID FETCH (\d+) \(BODY\.PEEK\[\]\)", command):
            if int(found[1]) in box.broken:
                return
            content = box.mails[int(found[1])].decode("utf-8", "surrogateescape")
            size = len(box.mails[int(found[1])])
            yield f"* {found[1]} FETCH (UID {found[1]} BODY[] {{{size}}}\r\n{content})"
        elif found := re.fullmatch(r"UID STORE (\d+) \+FLAGS \((\S+)\)", command):
            if box.keeps_words or found[2].startswith("\\"):
                box.flags[int(found[1])].add(found[2])
        elif command == "LOGOUT":
            yield "* BYE"

    def _say(self, *lines: str) -> None:
        self.wfile.write("".join(f"{line}\r\n" for line in lines).encode("utf-8", "surrogateescape"))


@contextmanager
def running() -> Iterator[ImapMailbox]:
    mailbox = ImapMailbox()
    with _Server(("127.0.0.1", 0), _Dialogue) as server:
        server.mailbox = mailbox
        mailbox.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
        thread.start()
        yield mailbox
        server.shutdown()
        thread.join()
