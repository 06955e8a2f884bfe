"""The renderer: its own process, without Django and without access to anything but its bundled files.

`python -m clinic.documents.renderer LIMITS FOLDER`: the limits as JSON, and a folder of its own that it
removes at the end. It reads one request after the other from standard input and answers on standard
output. It ends when the other side closes, when it has done its number of jobs or grown too large, and
when a job took more than its share of the processor.
"""

import os
import resource
import shutil
import sys
import tempfile
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO

from clinic.documents import frames
from clinic.documents.drawing import Studio
from clinic.documents.jobs import Job
from clinic.documents.limits import MEBIBYTE, Limits
from clinic.documents.refusing import Unprintable

_OPEN_FILES = 64
_WRITTEN_BYTES = 64 * MEBIBYTE


def main(limits: Limits, folder: str) -> None:
    sys.excepthook = _tell_the_place_only
    answers = _take_standard_output()
    tempfile.tempdir = folder
    _confine(limits)
    try:
        _serve(limits, answers)
    except BrokenPipeError:
        # Nobody waits for the answer any more, and flushing it at exit would fail again.
        sys.stderr.write("renderer: nobody reads the answer\n")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _serve(limits: Limits, answers: BinaryIO) -> None:
    studio = Studio(limits)
    for done in range(1, limits.jobs + 1):
        request = frames.read(sys.stdin.buffer)
        if request is None:
            return
        _allow_processor_time(limits.cpu_s)
        answer, pdf, healthy = _work(studio, Job(**request))
        last = not healthy or done == limits.jobs or _resident_bytes() > limits.resident_bytes
        answers.write(frames.pack({**answer, "last": last}, pdf))
        answers.flush()
        if last:
            return


def _work(studio: Studio, job: Job) -> tuple[dict[str, object], bytes, bool]:
    """The answer, the file, and whether this process can be trusted with another job."""
    try:
        drawing = studio.draw(job)
    except Unprintable as refusal:
        return {"failed": refusal.reason}, b"", True
    except RecursionError:
        return {"failed": "nesting"}, b"", False
    except MemoryError:
        return {"failed": "memory"}, b"", False
    return {"pages": drawing.pages, "undrawn": drawing.undrawn}, drawing.pdf, True


def _take_standard_output() -> BinaryIO:
    """Keep the channel for answers to ourselves: what a library prints goes to standard error."""
    channel = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    return channel


def _confine(limits: Limits) -> None:
    for what, most in (
        (resource.RLIMIT_AS, limits.memory_bytes),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_NOFILE, _OPEN_FILES),
        (resource.RLIMIT_FSIZE, _WRITTEN_BYTES),
    ):
        resource.setrlimit(what, (most, most))


def _allow_processor_time(cpu_s: int) -> None:
    """The soft limit counts from the process's start, so it moves on with every job; reaching it ends us."""
    usage = resource.getrusage(resource.RUSAGE_SELF)
    _, hard = resource.getrlimit(resource.RLIMIT_CPU)
    resource.setrlimit(resource.RLIMIT_CPU, (int(usage.ru_utime + usage.ru_stime) + 1 + cpu_s, hard))


def _resident_bytes() -> int:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * resource.getpagesize()


def _tell_the_place_only(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> Any:
    """The message of an error may quote a patient's sheet, so the log gets its kind and its place."""
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    place = f"{trace.tb_frame.f_code.co_filename}:{trace.tb_lineno}" if trace else "unknown place"
    sys.stderr.write(f"renderer: {kind.__name__} at {place}\n")


if __name__ == "__main__":
    main(Limits.from_text(sys.argv[1]), sys.argv[2])
