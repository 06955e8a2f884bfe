"""Pages that try to cost too much: each ends within its limits, and the next page is drawn as if nothing was.

The limits are small here; `make soak` runs the same pages against the full ones. They cost depth, length,
width, letters or shapes without end.
"""

import struct
import time
import zlib
from base64 import b64encode
from collections.abc import Callable, Iterator
from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import pytest
from pypdf import PdfReader

from clinic.documents.client import RendererPool
from clinic.documents.failures import RenderFailed
from clinic.documents.limits import MEBIBYTE, Limits
from tests.clinic.documents.drawing_jobs import job, svg, text_of

SMALL = Limits(memory_bytes=420 * MEBIBYTE, cpu_s=1, wall_s=8.0, pages=5)


def png_of_one_colour(width: int, height: int, *, is_grey: bool = True) -> str:
    """A picture that is small as a file and huge when opened."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = struct.pack(">IIBBBBB", width, height, 8, 0 if is_grey else 2, 0, 0, 0)
    press = zlib.compressobj(9)
    line = bytes(1 + width * (1 if is_grey else 3))
    rows = b"".join(press.compress(line) for _ in range(height)) + press.flush()
    content = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    return "data:image/png;base64," + b64encode(content).decode()


def laughing_svg() -> str:
    """Entities that multiply: a few lines that would become gigabytes."""
    names = "abcdefghij"
    lines = [f"<!ENTITY {names[0]} '{'x' * 50}'>"]
    lines += [f"<!ENTITY {new} '{f'&{old};' * 10}'>" for old, new in pairwise(names)]
    text = f"<!DOCTYPE svg [{''.join(lines)}]><svg xmlns='http://www.w3.org/2000/svg'><text>&j;</text></svg>"
    return "data:image/svg+xml;base64," + b64encode(text.encode()).decode()


def multiplying_svg() -> str:
    """Each group draws the one before it ten times."""
    groups = ['<g id="g0"><rect width="1" height="1"/></g>']
    groups += [f'<g id="g{n}">{f"""<use href="#g{n - 1}"/>""" * 10}</g>' for n in range(1, 9)]
    return svg(f'<defs>{"".join(groups)}</defs><use href="#g8"/>')


COSTLY = {
    "huge picture": f"<img alt='x' src='{png_of_one_colour(16_000, 12_000)}'>",
    "wide cells": "<table>" + "<tr>" + "<td colspan=1000>x</td>" * 400 + "</tr></table>",
    "many rows and columns": "<table>" + ("<tr>" + "<td>x</td>" * 60 + "</tr>") * 600 + "</table>",
    "many rows": "<table>" + "<tr><th scope='row'>x</th><td>y</td></tr>" * 5_000 + "</table>",
    "deep nesting": "<div>" * 3000 + "x",
    "deep tables": "<table><tr><td>" * 60 + "x",
    "deep lists": "<ul><li>" * 60 + "x",
    "deep words": "<p>" + "<span>" * 3000 + "x",
    "many pages": "<section class='letter'>x</section>" * 400,
    "huge text": "<p>" + "word " * 400_000,
    "many paragraphs": "<p>x</p>" * 60_000,
    "one endless word": "<p>" + "x" * 300_000,
    "many marks": "<p>" + "e" + "\u0301" * 100_000,
    "both directions": "<p>" + "a \u0628 " * 60_000,
    "laughing picture": f"<img alt='x' src='{laughing_svg()}'>",
    "multiplying picture": f"<img alt='x' src='{multiplying_svg()}'>",
    "huge canvas": "<img alt='x' src='" + svg("<rect width='9' height='9'/>", size=10**9) + "'>",
    "endless path": "<img alt='x' src='" + svg("<path d='M 0 0 " + "L 1 1 0 0 " * 30_000 + "'/>") + "'>",
    "deep picture": "<img alt='x' src='" + svg("<g>" * 4_000 + "</g>" * 4_000) + "'>",
    "endless counter": "<ol start='999999999999999999999'>" + "<li>x</li>" * 5000 + "</ol>",
    "tall part kept together": "<div class='together'>" + "<p>x</p>" * 400 + "</div>",
    "tall row": "<table><tr><td>" + "word " * 20_000 + "</td></tr></table>",
}


@pytest.fixture(scope="module")
def small_pool() -> Iterator[RendererPool]:
    pool = RendererPool(SMALL)
    yield pool
    pool.close()


@pytest.fixture(scope="module")
def patient_pool() -> Iterator[RendererPool]:
    """As few pages and as little memory, but time enough for the slowest machine to find what is wrong."""
    pool = RendererPool(replace(SMALL, cpu_s=60, wall_s=60.0))
    yield pool
    pool.close()


@pytest.mark.parametrize("name", COSTLY)
def test_it_ends_within_small_limits(small_pool: RendererPool, name: str) -> None:
    began = time.monotonic()
    outcome = outcome_of(small_pool, name)
    assert time.monotonic() - began < SMALL.wall_s + 5
    assert outcome in {"drawn", "time", "memory", "pages", "nesting", "incomplete", "ended", "blocked", "size"}
    assert text_of(small_pool.draw(job("<h1>After it</h1>")).pdf) == "After it"


def outcome_of(pool: RendererPool, name: str) -> str:
    try:
        pool.draw(job(COSTLY[name]))
    except RenderFailed as refusal:
        return refusal.reason
    return "drawn"


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("deep nesting", "nesting"),
        ("deep words", "nesting"),
        ("deep picture", "incomplete"),
        ("many pages", "pages"),
        ("huge picture", "blocked"),
        ("laughing picture", "blocked"),
        ("multiplying picture", "blocked"),
        ("wide cells", "incomplete"),
        ("endless counter", "incomplete"),
    ],
)
def test_the_reason_is_named(patient_pool: RendererPool, name: str, reason: str) -> None:
    assert outcome_of(patient_pool, name) == reason


def test_the_processor_limit_ends_it_however_slow_the_machine(pool_with: Callable[..., RendererPool]) -> None:
    assert outcome_of(pool_with(cpu_s=1), "huge text") == "ended"


def test_too_little_memory_ends_it(pool_with: Callable[..., RendererPool]) -> None:
    """Room for the interpreter and the fonts, and not for a thousand pages. Nothing else is lost by it."""
    pool = pool_with(memory_bytes=420 * MEBIBYTE, cpu_s=60)
    assert outcome_of(pool, "huge text") in {"memory", "ended"}
    assert text_of(pool.draw(job("<h1>After it</h1>")).pdf) == "After it"


@pytest.mark.parametrize(
    ("body", "count"),
    [
        ("<div class='together'>" + "<p>word</p>" * 80 + "</div>", 80),
        ("<ul class='call'>" + "<li>word</li>" * 80 + "</ul>", 80),
        ("<table class='signatures'>" + "<tr><th scope='row'>word</th><td></td></tr>" * 40 + "</table>", 40),
        ("<table><tr><th scope='row'>x</th><td>" + "word " * 1_500 + "</td></tr></table>", 1_500),
    ],
)
@pytest.mark.parametrize("large", [False, True])
def test_nothing_runs_off_the_page(patient_pool: RendererPool, body: str, count: int, large: bool) -> None:
    """What is taller than a page is cut, however much it is meant to stand on one."""
    page = job(body)
    if large:
        page = replace(page, html=page.html.replace("<html>", "<html class='large'>"))
    drawn = patient_pool.draw(page)
    assert drawn.pages > 1
    assert places(drawn.pdf, "word", above_foot=56) == count


def places(pdf: bytes, word: str, *, above_foot: float) -> int:
    """How often a word stands on the paper, above where the foot of the page begins, in points."""
    found = 0

    def visit(text: str, matrix: list[float], _text_matrix: object, _font: object, _size: object) -> None:
        nonlocal found
        found += text.count(word) if matrix[5] > above_foot else 0

    for page in PdfReader(BytesIO(pdf)).pages:
        page.extract_text(visitor_text=visit)
    return found


def test_the_processor_time_of_earlier_jobs_does_not_count(pool_with: Callable[..., RendererPool]) -> None:
    pool = pool_with(cpu_s=1)
    for number in range(8):
        page = "<table>" + f"<tr><td>{number}</td><td>x</td></tr>" * 150 + "</table>"
        assert pool.draw(job(page)).pages >= 3


@pytest.mark.soak
@pytest.mark.timeout(1500)
def test_it_ends_within_the_full_limits(size: Callable[[int], int]) -> None:
    """design.md's numbers: 60 s of wall clock, 768 MB of address space, at most 100 pages."""
    pool = RendererPool(Limits())
    names = list(COSTLY)[: size(len(COSTLY))]
    try:
        for name in names:
            began = time.monotonic()
            outcome_of(pool, name)
            assert time.monotonic() - began <= 61, name
            assert peak_of(pool) <= 768 * MEBIBYTE, name
            assert text_of(pool.draw(job("<h1>After it</h1>")).pdf) == "After it"
    finally:
        pool.close()


def peak_of(pool: RendererPool) -> int:
    if pool._renderer is None:
        return 0
    status = Path(f"/proc/{pool._renderer._process.pid}/status").read_text()
    line = next(line for line in status.splitlines() if line.startswith("VmPeak"))
    return int(line.split()[1]) * 1024
