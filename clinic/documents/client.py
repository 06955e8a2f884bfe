"""Keeps one renderer process for each of our own processes, and outlives whatever happens to it."""

import atexit
import logging
import os
import selectors
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import asdict
from pathlib import Path
from typing import IO

import clinic
from clinic.documents import frames
from clinic.documents.bundled import missing_files
from clinic.documents.failures import RenderFailed
from clinic.documents.jobs import Drawing, Job
from clinic.documents.limits import Limits

logger = logging.getLogger(__name__)
_PIECE = 65_536
_ROOT = Path(clinic.__file__).resolve().parent.parent


class _Gone(Exception):
    """The renderer closed its side."""


class _Renderer:
    """One process, spoken to by one caller at a time."""

    def __init__(self, limits: Limits) -> None:
        # Its home: whatever a library may want to put down. It clears the folder away itself, unless it is killed.
        self._folder = tempfile.mkdtemp(prefix="casebook-renderer-")
        self._process = subprocess.Popen(
            [sys.executable, "-m", "clinic.documents.renderer", limits.as_text(), self._folder],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
            cwd=_ROOT,
            env=_environment(self._folder),
            start_new_session=True,
        )
        self.is_fresh = True
        os.set_blocking(_pipe(self._process.stdin).fileno(), False)
        os.set_blocking(_pipe(self._process.stdout).fileno(), False)

    def ask(self, request: bytes, deadline: float) -> tuple[frames.Header, bytes]:
        self._send(request, deadline)
        header_size, body_size = frames.HEAD.unpack(self._receive(frames.HEAD.size, deadline))
        header = frames.unpack(self._receive(header_size, deadline))
        return header, self._receive(body_size, deadline)

    def _send(self, request: bytes, deadline: float) -> None:
        pipe, left = _pipe(self._process.stdin), memoryview(request)
        while left:
            _wait(pipe, selectors.EVENT_WRITE, deadline)
            try:
                left = left[os.write(pipe.fileno(), left[:_PIECE]) :]
            except BrokenPipeError:
                raise _Gone from None

    def _receive(self, size: int, deadline: float) -> bytes:
        pipe, received = _pipe(self._process.stdout), bytearray()
        while len(received) < size:
            _wait(pipe, selectors.EVENT_READ, deadline)
            piece = os.read(pipe.fileno(), min(_PIECE, size - len(received)))
            if not piece:
                raise _Gone
            received += piece
        return bytes(received)

    def end(self) -> None:
        self.let_go()
        self._process.kill()
        self._process.wait()
        shutil.rmtree(self._folder, ignore_errors=True)

    def let_go(self) -> None:
        """Close our ends of the pipes; all that a forked copy of us may do to its parent's renderer."""
        _pipe(self._process.stdin).close()
        _pipe(self._process.stdout).close()

    def disown(self) -> None:
        """In a forked copy: the process and its folder belong to the parent."""
        self.let_go()
        self._process.returncode = 0


class RendererPool:
    """One renderer for this process, begun when first needed and renewed when it ends."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self._lock = threading.Lock()
        self._renderer: _Renderer | None = None
        self._pid = os.getpid()

    def draw(self, job: Job) -> Drawing:
        self.notice_fork()
        if len(job.html) > self.limits.source_bytes:
            raise RenderFailed("size")
        deadline = time.monotonic() + self.limits.wall_s
        if not self._lock.acquire(timeout=self.limits.wall_s):
            raise RenderFailed("busy")
        try:
            header, pdf = self._ask(frames.pack(asdict(job)), deadline)
        finally:
            self._lock.release()
        if reason := header.get("failed"):
            raise RenderFailed(reason)
        return Drawing(pdf=pdf, pages=header["pages"], undrawn=header["undrawn"])

    def _ask(self, request: bytes, deadline: float) -> tuple[frames.Header, bytes]:
        renderer = self._ready()
        was_fresh, renderer.is_fresh = renderer.is_fresh, False
        stays = False
        try:
            header, pdf = renderer.ask(request, deadline)
            stays = not header["last"]
        except TimeoutError:
            raise RenderFailed("time") from None
        except _Gone:
            # One that had worked before may have died while idle; a fresh one died of this document.
            if was_fresh:
                raise RenderFailed("ended") from None
        else:
            return header, pdf
        finally:
            # Also when something interrupts us: a half-read answer must not meet the next request.
            if not stays:
                self._drop()
        return self._ask(request, deadline)

    def _ready(self) -> _Renderer:
        if self._renderer is None:
            if missing := missing_files():
                logger.error(
                    "Bundled fonts are missing (%s). Make them with: manage.py build_fonts", ", ".join(missing)
                )
                raise RenderFailed("fonts")
            self._renderer = _Renderer(self.limits)
        return self._renderer

    def _drop(self) -> None:
        renderer, self._renderer = self._renderer, None
        if renderer is not None:
            renderer.end()

    def close(self) -> None:
        self.notice_fork()
        with self._lock:
            self._drop()

    def notice_fork(self) -> None:
        """A forked worker starts its own: two processes on one pipe would read each other's answers."""
        if self._pid == os.getpid():
            return
        self._pid, self._lock = os.getpid(), threading.Lock()
        renderer, self._renderer = self._renderer, None
        if renderer is not None:
            renderer.disown()


def _pipe(pipe: IO[bytes] | None) -> IO[bytes]:
    if pipe is None:
        raise TypeError("The renderer was begun without pipes.")
    return pipe


def _wait(pipe: IO[bytes], event: int, deadline: float) -> None:
    with selectors.DefaultSelector() as selector:
        selector.register(pipe, event)
        if not selector.select(timeout=max(0.0, deadline - time.monotonic())):
            raise TimeoutError


def _environment(folder: str) -> dict[str, str]:
    """Nothing of ours but the bare minimum: the renderer has no use for keys or database addresses."""
    kept = {name: os.environ[name] for name in ("PATH", "LD_LIBRARY_PATH", "PYTHONPATH") if name in os.environ}
    return kept | {
        "LANG": "C.UTF-8",
        "HOME": folder,
        "TMPDIR": folder,
        "XDG_CACHE_HOME": folder,
        # One sheet at a time on one processor: its threads would only wait for each other, each with a stack.
        "RAYON_NUM_THREADS": "1",
    }


# Every caller in this process shares it. A fork closes its copy of the pipes at once, so that the
# renderer of a parent that was killed still sees the end of its input.
POOL = RendererPool(Limits())
os.register_at_fork(after_in_child=POOL.notice_fork)
atexit.register(POOL.close)
