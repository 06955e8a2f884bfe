"""The aftercare sheet beside two other libraries; five hundred of it, and the first one.

Each is another patient's, with other days, another code and another link: what the typesetter keeps from one sheet
for the next must not flatter it by a sheet that never differs.
"""

import re
import statistics
import time
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from io import BytesIO
from itertools import count, cycle, islice
from pathlib import Path
from unittest.mock import patch

from benchmarks.documents import YARDSTICK, fresh
from benchmarks.frame import Figure, Result, Target
from clinic.documents.client import POOL, RendererPool
from clinic.documents.jobs import Drawing, Job
from clinic.documents.limits import Limits
from clinic.documents.qr import as_picture

DRAWN, WARM, STARTS, ROUNDS = 500, 20, 5, 25
KIBIBYTE = 1024


def results() -> Iterator[Result]:
    job = aftercare()
    # Made beforehand: what draws a square for a telephone is no part of setting the sheet.
    sheets = cycle(list(islice(of_others(job), DRAWN + 3 * WARM + 4 * ROUNDS)))
    size = {"pages": POOL.draw(job).pages}
    for _ in range(WARM):
        POOL.draw(next(sheets))
    yield Figure(
        name="aftercare sheet",
        run=lambda: POOL.draw(next(sheets)),
        yardstick=YARDSTICK,
        yardstick_run=lambda: fresh(next(sheets)),
        target=Target(limit=0.6, of="ratio"),
        size=size,
        rounds=ROUNDS,
    ).measure()
    lines = words_of(job)
    yield Figure(
        name="aftercare sheet, beside ReportLab",
        run=lambda: POOL.draw(next(sheets)),
        yardstick="ReportLab, the same words",
        yardstick_run=lambda: by_reportlab(lines),
        target=Target(limit=1.6, of="ratio"),
        size=size | {"lines": len(lines)},
        rounds=ROUNDS,
    ).measure()
    yield growth(sheets)
    yield cold_start(job)


def aftercare() -> Job:
    """Issued through the program's own action in a practice of its own; what is sent to the renderer is kept."""
    from django.core.management import call_command  # noqa: PLC0415  (Django is set up by now)

    from tests.cast import NOW, actor_of, open_practice  # noqa: PLC0415
    from tests.whitening.recall import afterwards  # noqa: PLC0415
    from whitening.recall.aftercare import sheet_of  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    cast = open_practice()
    session = afterwards.a_closed_session(cast)
    kept: list[Job] = []

    def keeping(job: Job) -> Drawing:
        kept.append(job)
        return POOL.draw(job)

    with patch("clinic.documents.rendering.POOL") as pool:
        pool.draw = keeping
        sheet_of(session, actor=actor_of(cast.clinician), now=NOW)
    return kept[-1]


def of_others(job: Job) -> Iterator[Job]:
    """The same sheet for one patient after the other."""
    (name,) = set(re.findall(r'data-patient="(\w+ \w+),', job.html))
    (code,) = re.findall(r'class="code">([\w-]+)<', job.html)
    (link,) = set(re.findall(r'href="([^"]+)"', job.html))
    (picture,) = re.findall(r'src="([^"]+)"', job.html)
    for number in count(1):
        other = f"{link[:-9]}{number:08d}/"
        html = job.html.replace(name, f"Amara Nwosu{number}").replace(code, f"{code[:-5]}{number:05d}")
        html = html.replace(picture, as_picture(other)).replace(link, other)
        # Every day that it names, of another year.
        yield replace(job, html=re.sub(r"\b2026\b", str(2027 + number % 60), html), identifier=f"{number:032d}")


def words_of(job: Job) -> list[str]:
    body = job.html.partition("<body")[2].partition(">")[2]
    pieces = re.split(r"</?(?:p|li|h\d|tr|dt|dd|div|section|table|ul|ol|header|footer)\b[^>]*>", body)
    plain = (" ".join(unescape(re.sub(r"<[^>]+>", " ", piece)).split()) for piece in pieces)
    return [line for line in plain if line]


def by_reportlab(lines: list[str]) -> bytes:
    """Untagged and not archivable: as little as that library does when it is asked as its manual shows."""
    from reportlab.lib.pagesizes import A4  # noqa: PLC0415  (of the benchmark alone)
    from reportlab.lib.styles import getSampleStyleSheet  # noqa: PLC0415
    from reportlab.platypus import Paragraph, SimpleDocTemplate  # noqa: PLC0415

    out, style = BytesIO(), getSampleStyleSheet()["BodyText"]
    escaped = (line.replace("&", "&amp;").replace("<", "&lt;") for line in lines)
    SimpleDocTemplate(out, pagesize=A4).build([Paragraph(line, style) for line in escaped])
    return out.getvalue()


def growth(sheets: Iterator[Job]) -> Result:
    """Of the renderer's resident memory, in mebibytes, after a warm-up; the limit on its jobs is not in the way."""
    pool = RendererPool(Limits())
    try:
        for _ in range(WARM):
            pool.draw(next(sheets))
        begun, seen = resident(pool), []
        for _ in range(DRAWN):
            pool.draw(next(sheets))
            seen.append(resident(pool))
    finally:
        pool.close()
    grown, size = max(seen) - begun, {"documents": DRAWN}
    target = Target(limit=10, of="value")
    return target.judge("aftercare sheet: growth of memory", grown, "after twenty", begun, size=size, unit="MiB")


def resident(pool: RendererPool) -> float:
    renderer = pool._renderer
    if renderer is None:
        return 0
    status = Path(f"/proc/{renderer._process.pid}/status").read_text(encoding="ascii")
    line = next(line for line in status.splitlines() if line.startswith("VmRSS"))
    return int(line.split()[1]) / KIBIBYTE


def cold_start(job: Job) -> Result:
    """A process of its own, its fonts and the first sheet."""
    cold = []
    for _ in range(STARTS):
        pool = RendererPool(Limits())
        began = time.perf_counter()
        pool.draw(job)
        cold.append((time.perf_counter() - began) * 1000)
        pool.close()
    began = time.perf_counter()
    POOL.draw(job)
    warm = (time.perf_counter() - began) * 1000
    # Our own limit: nobody waits longer for the first paper of a day.
    target = Target(limit=5_000, of="value")
    return target.judge("aftercare sheet: cold start", statistics.median(cold), "warm", warm, size={"starts": STARTS})
