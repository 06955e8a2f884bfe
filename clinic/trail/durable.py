"""Files that are whole or absent after a crash, readable by this user alone."""

import fcntl
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_SMALL = 4096


def sync_folder(folder: Path) -> None:
    """Without this a new name in a folder may be lost although the file's bytes are safe."""
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def contents(name: str) -> bytes | None:
    """Of a small file; None where there is none. For what is read with every message: by the shortest way."""
    try:
        descriptor = os.open(name, os.O_RDONLY | os.O_CLOEXEC)
    except FileNotFoundError:
        return None
    try:
        whole = b""
        while more := os.read(descriptor, _SMALL):
            whole += more
        return whole
    finally:
        os.close(descriptor)


@contextmanager
def alone(lock: Path) -> Iterator[None]:
    """One process at a time; the lock goes with the process, so a killed one holds nobody up."""
    lock.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(lock, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


def write_new(path: Path, content: bytes) -> bool:
    """Writes the file unless it exists; False when somebody else was first."""
    draft = _draft(path, content)
    try:
        os.link(draft, path)  # unlike a rename, a link never replaces what another process made
    except FileExistsError:
        return False
    finally:
        draft.unlink()
    sync_folder(path.parent)
    return True


def replace(path: Path, content: bytes) -> None:
    draft = _draft(path, content)
    draft.replace(path)
    sync_folder(path.parent)


def append_line(path: Path, line: str) -> None:
    """Appends one line in one write, on the disk before it returns.

    It opens with a line break: a line that a power cut tore cannot swallow the next one. Readers skip
    the empty lines.
    """
    is_new = not path.exists()
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        content = f"\n{line}\n".encode()
        if os.write(descriptor, content) != len(content):
            raise OSError(f"{path.name}: the disk took only a part of the line.")
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
    if is_new:
        sync_folder(path.parent)


def shred(path: Path) -> None:
    """Overwrites, then removes. On a flash disk old blocks may live on: that is why keys lie wrapped."""
    with path.open("r+b", buffering=0) as file:
        file.write(secrets.token_bytes(path.stat().st_size))
        os.fsync(file.fileno())
    path.unlink(missing_ok=True)
    sync_folder(path.parent)


def _draft(path: Path, content: bytes) -> Path:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    return draft
